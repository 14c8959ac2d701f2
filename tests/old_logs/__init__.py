"""Runs recorded by earlier versions of the program, and what the newest one must make of them.

A user who updates has pieces half cut and years of log. However keys, types and modules are changed, the newest
program must open each recording, show it, and continue each unfinished run to its end. `v0_1` and so on hold what
that version wrote, by its own screens and real keys:

- `NAME/logbook.sqlite3`: as the program closed it. It is opened only as a copy. Its SHA-256 is among the facts.
- `NAME/facts.json`: what must come out of its events. `tests.old_logs.facts` says which of them hold for good (the
  numbers) and how a rename is noted (a line in RENAMED). No fact is ever changed to make a test pass.
- `NAME/replanned.json`: what planning again makes of each unfinished run. `python -m tests.old_logs.replanned v0_1`
  writes it again if planning was changed on purpose.
- `jobs`: the job files and lathes as they were then, so also old files that must stay readable.

A recording is never replaced or deleted. Others are added: a new version, a new kind of event or operation, or a new
cause gets a folder of its own. `tests.old_logs.record` writes it, with the keys of that time.

Below, each run is listed with what was logged in it. "Closed at" names the step of an unfinished run.

v0_1/turning
- Turn the foot: three times. Finished: reading entered at touch-off, undo, note, measured, not measured, spring pass.
  Abandoned for another piece, after the job was changed. That other piece, closed at a measurement.
- Bore the foot: inside; set differently, moved and touched off again, a pass repeated, interrupted, not moved.
- Face the foot: spring pass, job changed in between (planned again), the position reached so far measured.
- Groove the foot: a step skipped, the skip undone by doing it, skipped again; set differently, not yet cut.
- Break the edges: by hand; moved, finished.
- Turn the collar: interrupted, job changed in between (planned again), closed at a measurement.
- Stamp the foot: by hand, not done; the program was killed in its counter; text changed in between.
- Turn the blank: in inches; moved, not yet touched off again.
- Chamfer: by hand; done, but not finished.
- Turn the rim: a dial whose numbers fall shows the diameter itself; measured.
- Face the rim: a readout without turns; set differently, moved, not yet touched off again.
- Turn the spigot: a dial whose numbers fall; nothing measured, finished.
- Face the flange: finished, with both measurements.
- Turn to 28 mm: without a job, on the example lathe; the measurement is far from what the dial predicts.

v0_1/threads
- Levelling screw: twice. Finished: pitch diameter at two ends with its error, over wires, over wires of another size,
  over one wire, all undone; depth of the groove; gauge will not start, tight, loose (undone), fits. In the other, the
  measurement is past the limits.
- Spare levelling screw: picked up after the tool, the work, the half nuts were moved; closed during
  another picking up.
- Quick screw: two starts by the compound, straight infeed; measured, not measured; closed in the second start.
- Quick screw by the flank: two starts by the thread dial, left hand; set differently by a turn, a pass skipped.
- Nut of the levelling screw: inside; spring pass; closed at the first measurement.
- Thread for the inch backplate: a pinned dial, its reading entered at touch-off; set as planned, not yet cut.
- Thread inside the clamp ring: straight infeed by a dial whose numbers fall; not touched off yet; note.
- Cut the clamp thread: in inches; measured at two ends, then loose: closed at the question what to do.
- Cut the arbor thread: reading entered at touch-off; interrupted, blank changed in between (planned again).
- Thread M8x1.25-6g: without a job; tapered, so spring passes come first.

v0_1/runout
- Spigot in four jaws: twice. Finished: a reading corrected, the moves made, read again in graduations, closing reading
  not taken. Closed in its first turn: thou, note, a mark to read again.
- Bar in three jaws: moves planned, none made; tolerance changed in between (another set of readings).
- Bar at two places: closed in the second plane.
- Face of the plate: closing reading not taken; closed while the same turn was read a second time.
- Bore read before: readings came with the job; a move made, one skipped; moved overnight, partly read again.
- Check the arbor's spigot: a reading far off on purpose; the indicator slipped, so no move is planned.
- Runout outside: without a job, in inches, thou and graduations.

v0_1/table
- Hour marks: by dial, going round; table and depth set differently, a position skipped, a pass done again, depth
  measured, undo, note.
- Marks at the rim: counted downwards, listed angles, each to full depth; depth measured; moved, half found again.
- Rosette: circles that touch, two layers with an inch head; nothing measured, finished.
- Border: trial circle, the head moved, trial circle again, depth measured, a pass skipped; moved overnight, the zeros
  found again, closed in the second layer.
- Teeth by the plate: depth measured; hole and depth set differently.
- Teeth by two circles: both circles together; a position skipped.
- Notches: twice. Finished. Notch set differently, more divisions from the next day on (planned again).
- Circles by trial: a head without a dial, moved by trial circles; closed at that of layer 2, deeper from then on.
- Holes of the rim: a hole skipped, undone; another start from the next day on (planned again).
- Holes of the base: moved, finished.

What even earlier programs wrote (schema 1 with number and shift of a step in one, "goes" for fits) is tested beside
the code that reads it: core.operations.dividing.steps, core.operations.threads.replanning.
"""
