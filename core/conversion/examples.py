"""What can be asked, by example."""

from core.conversion.wording import Row

EXAMPLE_ROWS = (
    Row("a length", "1 1/4 in, 15 thou, 29,80 mm, 1/3 in, #7, letter F"),
    Row("a sum", "1 1/4 in - 2*15 thou + 0.2 mm, (25.4 mm)/3, 40 mm / cos(29.5 deg)"),
    Row("an angle", "29.5 deg, 2 deg 51 min, 12d30m15s, 360 deg / 7"),
    Row("a taper", "1:20, 0.6 tpf, 2 mm per 100 mm, MT 2, metric 80, 7 deg half, 5 %"),
    Row("a pitch", "8 tpi, 3.5 mm pitch"),
    Row("a speed", "25 m/min at 30 mm, 310 rpm at 40 mm, 80 ft/min"),
    Row("limits", "12.5 +0.02 -0.01 mm, 30 ±0.1 mm, 28.98 to 29.00 mm"),
    Row("a fit", "30 H7/g6, 30 H7, 30 g6"),
    Row("anything else", "20 degC, 100 psi, 370 W, 5 lbf*ft"),
)
