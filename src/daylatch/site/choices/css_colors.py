"""The colours that a calendar can be given: the names of CSS, which RFC 7986, 5.9 asks for."""

from __future__ import annotations

# "CSS Color Module Level 3" (W3C Recommendation of 7 June 2011), 4.3, the list that RFC 7986 names;
# later ones have names that its readers need not know.
_NAMES = """
    aliceblue antiquewhite aqua aquamarine azure beige bisque black blanchedalmond blue
    blueviolet brown burlywood cadetblue chartreuse chocolate coral cornflowerblue cornsilk
    crimson cyan darkblue darkcyan darkgoldenrod darkgray darkgreen darkgrey darkkhaki
    darkmagenta darkolivegreen darkorange darkorchid darkred darksalmon darkseagreen
    darkslateblue darkslategray darkslategrey darkturquoise darkviolet deeppink deepskyblue
    dimgray dimgrey dodgerblue firebrick floralwhite forestgreen fuchsia gainsboro ghostwhite
    gold goldenrod gray green greenyellow grey honeydew hotpink indianred indigo ivory khaki
    lavender lavenderblush lawngreen lemonchiffon lightblue lightcoral lightcyan
    lightgoldenrodyellow lightgray lightgreen lightgrey lightpink lightsalmon lightseagreen
    lightskyblue lightslategray lightslategrey lightsteelblue lightyellow lime limegreen linen
    magenta maroon mediumaquamarine mediumblue mediumorchid mediumpurple mediumseagreen
    mediumslateblue mediumspringgreen mediumturquoise mediumvioletred midnightblue mintcream
    mistyrose moccasin navajowhite navy oldlace olive olivedrab orange orangered orchid
    palegoldenrod palegreen paleturquoise palevioletred papayawhip peachpuff peru pink plum
    powderblue purple red rosybrown royalblue saddlebrown salmon sandybrown seagreen seashell
    sienna silver skyblue slateblue slategray slategrey snow springgreen steelblue tan teal
    thistle tomato turquoise violet wheat white whitesmoke yellow yellowgreen
"""
COLOR_NAMES = frozenset(_NAMES.split())
"""All 147 of them, in lower case."""

_MOST_OFFERED = 3


def read_color(value: object) -> str:
    """Return the name of a colour in lower case; names are the same in any case.

    Raises
    ------
    ValueError
        If it is none, offering names that look like it.
    """
    name = value.strip().lower() if isinstance(value, str) else ""
    if name in COLOR_NAMES:
        return name
    from difflib import get_close_matches  # noqa: PLC0415 - for slips only

    near = get_close_matches(name.replace(" ", ""), sorted(COLOR_NAMES), n=_MOST_OFFERED)
    offer = f"did you mean {' or '.join(near)}?" if near else "such as seagreen or gold"
    raise ValueError(f"write a colour by its name in CSS; {offer}")
