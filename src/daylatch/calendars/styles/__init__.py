"""The styles of a door's calendar, a module each; `site.choices.calendar_styles` lists them."""
