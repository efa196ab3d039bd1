"""The styles of a door's calendar, a module each; `daylatch.site.calendar_styles` lists them."""
