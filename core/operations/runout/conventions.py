"""Signs and directions of runout readings, stated once and drawn; screens show them from here."""

CONVENTIONS = (
    "A reading is + when the plunger is pushed in, wherever the indicator stands.",
    "Angles are marks on the work, counted in the order in which they come under the indicator as the spindle is "
    "turned by hand; 0° is the first reading, at jaw 1. They travel with the work, so it does not matter which way "
    "it is turned, or from which end it is seen.",
    "Jaw n of N sits at mark 360° (n - 1) / N, counted in the same order.",
    "The high spot is the mark at which the fitted circle pushes the plunger in most. Outside, the work sits off "
    "towards it; in a bore, away from it; a face leans back opposite to it.",
    "Pictures are drawn as seen from the side from which the work turns anticlockwise: the marks then follow each "
    "other clockwise, the first at the top.",
    "The first of two planes is the one nearer to the chuck.",
)

DRAWING = r"""
      outside               bore                face

     indicator            _________                |
         |               /    ^    \               |
     ____v____          |     |     |              |<--- indicator
    /         \         | indicator |     chuck    |
   |     +     |        |     +     |              |
   |           |        |           |              |
    \_________/          \_________/               |

  in: the surface      in: the surface      in: the face stands out
  stands out from      lies nearer to       towards the indicator
  the axis (+)         the axis (+)

     indicator
         v             The work turns this way: <-
       __0__           Mark 0 is read first; 90 comes to
      /     \          the indicator next, then 180, 270.
  270 |  +  | 90       Seen from the other side all is
      \_____/          mirrored, and the order is the same.
        180
"""
"""The three ways to set the indicator and the order of the marks, in characters that every terminal has."""
