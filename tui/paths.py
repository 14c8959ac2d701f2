"""The folders of halfnut: for the log, for the user's lathes, and for the user's jobs and exports."""

from pathlib import Path
from typing import NamedTuple

_APPLICATION = "halfnut"


class Paths(NamedTuple):
    """The folders of one user. Each folder is created when the program first saves something in it."""

    data: Path
    """The folder of the log."""
    config: Path
    """The folder of the user's own lathes and settings, including the chosen colours."""
    cache: Path
    """The folder for data that can be generated again, such as units looked up in pint."""
    documents: Path
    """The usual folder for jobs and exports."""
    jobs: Path | None = None
    """The folder given by --jobs, which has priority; None if --jobs is not given."""

    @property
    def own_lathe(self) -> Path:
        """The file of the lathe that the user has set up and uses. It may not exist yet."""
        from core.lathe.set_up.in_use import own_lathe

        return own_lathe(self.config)

    @property
    def samples(self) -> Path:
        """The folder of the user's copies of the sample jobs."""
        return self.data / "samples"

    @property
    def patterns(self) -> Path:
        """The folder of the patterns that the user has kept, each as an ordinary job file."""
        return self.data / "patterns"

    @property
    def theme(self) -> Path:
        """The file that stores which set of colours the user chose."""
        return self.config / "theme"

    @property
    def controls(self) -> Path:
        """The file that stores the settings for pedals, instruments, the bell and the folder of jobs."""
        return self.config / "controls.toml"


def user_paths(data: Path | None = None, jobs: Path | None = None) -> Paths:
    """Return the folders of this user.

    `data` (--data) replaces the folder of the log and also holds the usual folder of jobs. `jobs` (--jobs) replaces the
    folder of jobs. None means the folder that is usual on this system.
    """
    # Only the screens and the log need this module. Importing it takes as long as reading a job.
    import platformdirs

    return Paths(
        data=data or platformdirs.user_data_path(_APPLICATION, appauthor=False),
        config=platformdirs.user_config_path(_APPLICATION, appauthor=False),
        cache=platformdirs.user_cache_path(_APPLICATION, appauthor=False),
        documents=data / "documents" if data else platformdirs.user_documents_path() / _APPLICATION,
        jobs=jobs,
    )
