"""Long trials of the whole program, run by hand: each prints what it tried and what was lost.

    python -m tests.trials.kills 200        python -m tests.trials.clocks
    python -m tests.trials.power_cuts       python -m tests.trials.strangers
    python -m tests.trials.disks            python -m tests.trials.terminals
    python -m tests.trials.damage           python -m tests.trials.keys
    python -m tests.trials.sharing          python -m tests.trials.fuzz --minutes 10

Exit status: 0 nothing was lost, 1 something was, 2 something that the trial needs is missing.
"""
