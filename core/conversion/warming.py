"""Loads ahead of need what only some questions want, so that none of them waits for it."""


def warm_up() -> None:
    """Read the tables of fits, threads and dividing; meant for a thread behind the first paint."""
    # Imported here: what is loaded ahead must not be loaded with this module.
    import core.conversion.limits
    import core.operations.dividing.by_dial  # noqa: F401
    from core.conversion.fits import fit_spelled
    from core.operations.threads.series import standard_threads_with_pitch

    fit_spelled("30 H7/g6")
    standard_threads_with_pitch(1)
