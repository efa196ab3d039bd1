"""Pictures of a plan, drawn with matplotlib, which no other part of the program uses.

`columns` turns stretches of time into shapes over dates; `style` holds the looks and the page,
`scales` the dates under a chart and `flags` the notes over it; `year`, `nights` and `comparison`
each draw one picture; `render` makes files of them.
"""
