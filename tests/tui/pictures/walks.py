"""The walks: which keys lead to each screen that is pictured.

What a walk does is written as words: a key ("down"), a text pasted into the field ("=M10", quoted if it has
blanks), a picture ("#board", in another size "#board_wide@120x40"), START, KILLED or LEFT. One walk takes several
pictures: starting the program costs more than any of them.
"""

import shlex
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from tui.terminal import Terminal

SIZE = (80, 24)
START, KILLED, LEFT = "START", "KILLED", "LEFT"
"""The words for three things that a walk can do: start the run after reading all cautions, be killed, quit in order.

After either end, the program is started again.
"""
LATHES = {"metric": "metric_lathe.toml", "mixed": "mixed_lathe.toml"}
CONSOLE = Terminal(charset="console", dots="ascii", sixteen_colours=True)
ARBOR, SCREW, HOURS = "sundial_arbor.toml", "gnomon_screw.toml", "hour_lines.toml"
TAPER, TABLE, FOOT = "socket_arbor.toml", "plate_on_the_table.toml", "gnomon_foot.toml"
POST = "sundial_post.toml"
BROKEN = """\
format = 1
[[operation]]
kind = "turn"
name = "Foot"
from = "30"
"""


class Walk(NamedTuple):
    """Which keys lead to some screens. Pages of help are pictured in a size in which they are whole."""

    name: str
    words: str
    job: str = ""
    """One of the samples; "" for none."""
    lathe: str = ""
    """One of LATHES as the user's own; "" for none."""
    terminal: Terminal = Terminal()
    files: Mapping[str, str] = {}
    """Further files in the user's folder: name and text."""

    @property
    def steps(self) -> list[str]:
        """Each key, text and picture."""
        return shlex.split(self.words)

    @property
    def pictures(self) -> Iterator[str]:
        """The names of its pictures."""
        return (step[1:].partition("@")[0] for step in self.steps if step.startswith("#"))


WALKS = (
    Walk(
        "first_start",
        """
        #start f1 #help_board@80x60 escape a #add escape
        end up up up up up up enter #open_file =broken.toml enter #file_errors
        """,
        files={"broken.toml": BROKEN},
    ),
    Walk(
        "board",
        """
        #board #board_wide@120x40 c #card escape e #change_operation escape
        k #pedal enter m #pedal_refused escape escape
        enter #begin START #turn_counter_set_up f1 #help_counter@80x62 escape
        space #turn_counter_pass #turn_counter_wide@120x40
        2 #set_differently escape 4 #note "=Coolant low" enter 6 #go_back escape 7 #skip escape 5 #pick_up escape
        space space #turn_counter_measure space #measured a =0 enter #measured_refused
        ctrl+u =27.62 enter #turn_counter_planned_again 0 #leave_counter enter #board_under_way
        enter space space b space space b space space #turn_counter_finished enter #board_finished
        """,
        job=ARBOR,
    ),
    Walk("killed", "enter START space space KILLED #interrupted 1 #find_again =28.5 enter #found_again", job=ARBOR),
    Walk("closed", "enter START space space 0 enter LEFT #was_it_moved", job=ARBOR),
    Walk(
        "arbor_forms",
        """
        d #turn_empty escape e 1 #turn_filled escape
        down down t #thread_empty f1 #help_form@80x60 escape =M27x3-6x #thread_refused escape #leave_form 1
        e 1 #thread_filled #thread_wide@120x40 f6 #thread_figures f6 #thread_steps f6 #thread_pictures escape
        down f #face_empty escape e 1 #face_filled escape
        down u #runout_empty escape e 1 #runout_filled
        """,
        job=ARBOR,
    ),
    Walk(
        "arbor_thread",
        """
        down down enter START #changed_set_up space space space space #thread_counter_set_up space space space
        #thread_counter_dry_run space space space #thread_counter_pass #thread_counter_wide@120x40
        1 #thread_measured 1 #thread_shoulder =26.2 enter #thread_free_end n #thread_planned_again
        1 3 #thread_fit escape 5 1 #thread_moved
        """,
        job=ARBOR,
    ),
    Walk(
        "arbor_runout",
        """
        down down down down enter START space space #runout_first f1 #help_runout@80x60 escape
        =0.08 enter =0.07 enter =0.03 enter #runout_so_far
        =-0.03 enter =-0.08 enter =-0.07 enter =-0.03 enter =0.03 enter =0.08 enter
        #runout_told #runout_wide@120x40 enter #runout_move enter enter #runout_finished
        """,
        job=ARBOR,
    ),
    Walk(
        "hours_forms",
        """
        i #divide_empty ctrl+r #divisions escape escape e 1 #divide_filled escape
        down b #holes_empty escape e 1 #holes_filled escape
        down r #pattern_empty escape e 1 #pattern_filled #pattern_wide@120x40
        f6 #pattern_figures f6 #pattern_settings f6 f6 #pattern_drawn
        """,
        job=HOURS,
    ),
    Walk(
        "hours_counters",
        """
        enter START space space space space #divide_counter_second
        8 #where "=0 deg" enter #where_answered escape 0 enter
        down down enter START space #pattern_counter_set_up
        space space space space space b space space space space space
        #pattern_counter_pass l #pattern_counter_list escape asterisk #pattern_counter_picture
        """,
        job=HOURS,
    ),
    Walk(
        "screw",
        """
        down e 1 #thread_inch escape down down g #groove_empty escape e 1 #groove_filled escape
        enter START space space space #groove_counter_pass
        """,
        job=SCREW,
    ),
    Walk(
        "taper",
        """
        down e 1 #taper_filled f6 #taper_figures escape a 4 #taper_empty escape
        enter START space space space space space #taper_counter_touch_off space space #taper_counter_pass
        space space space space #taper_two a =15.6 enter #taper_second =17.9 enter #taper_corrected
        """,
        job=TAPER,
    ),
    Walk(
        "drilled",
        """
        a 6 #drill_empty escape e 1 #drill_filled f6 #drill_figures escape
        enter START space space space #drill_counter_touch_off space #drill_counter_pass
        asterisk #drill_counter_picture asterisk space 1 #drill_measured =9.2 enter #drill_planned_again
        """,
        job=FOOT,
    ),
    Walk(
        "post",
        """
        e 1 #shoulders_filled f6 #shoulders_figures escape
        enter START #face_touch_off space space #shoulders_counter_pass #shoulders_counter_wide@120x40
        space space space b =59.6 enter #length_measured
        """,
        job=POST,
    ),
    Walk(
        "setting_up",
        """
        down down e enter #axes_filled f6 #axes_figures escape
        enter START space space space space space #axes_asked
        =0 enter space =0.02 enter space =0.02 enter space =0 enter
        #axes_face space space #axes_height 0 enter
        up enter START space space space =0 enter space =0.02 enter space =0.03 enter space =0.05 enter #square_correct
        """,
        job=TABLE,
    ),
    Walk(
        "cutters",
        """
        end up e 1 #grind_filled f6 #grind_figures escape
        enter START space space space space =3.3 enter #grind_to_go
        space space =3.02 enter #grind_flank #grind_wide@120x40
        space space space space space space #grind_check space space #grind_keep
        """,
        job=TABLE,
    ),
    Walk(
        "conversion",
        """
        f12 #convert_empty "=15 thou" #convert_length ctrl+u "=30 H7/g6" #convert_fit
        ctrl+u "=5 parsecs" enter #convert_refused f1 #help_convert@80x60
        """,
        lathe="mixed",
    ),
    Walk(
        "kept",
        """
        d =30 enter =28 enter enter =0.5 f5 START
        space space minus space 4 "=Coolant low" enter 7 1 g 1 2 =0.2 enter 0 enter
        f4 #new_job "=Gnomon foot" enter #new_job_file enter #new_job_name enter #new_job_kept
        escape f3 home #history f1 #help_history@80x60 escape enter #run_log x #export escape
        s #summary escape escape w #lathe_record a #ask_lathe_note escape f1 #help_lathe_record@80x60
        """,
        lathe="metric",
    ),
    Walk(
        "set_up",
        """
        l #set_up f1 #help_set_up@80x60 escape enter #ask_lathe f8
        down enter #ask_cross_slide 1 1 "=4 tenths" enter #ask_refused ctrl+u =4 enter f4 #find_out escape f8
        down down down down down enter #ask_scale f8 down enter #ask_leadscrew f8 down enter #ask_thread_dial f8
        down enter #ask_change_gears f8 down enter #ask_gearbox f8 down enter #ask_spindle f8
        down enter #ask_rotary_table f8 down enter #ask_indicator f8 down enter #ask_chucks f8
        down enter #ask_stock f8
        """,
    ),
    Walk("lathes", "l #set_up_told down down t #dial_test escape l #lathes", lathe="mixed"),
    Walk(
        "console",
        "enter START space #counter_console 0 enter down down e 1 f6 f6 f6 #thread_pictures_console",
        job=ARBOR,
        terminal=CONSOLE,
    ),
)


def names() -> list[str]:
    """Return the names of all pictures, in order."""
    return [name for walk in WALKS for name in walk.pictures]
