"""What works the door, a module each: when it will really move; `site.choices.works` lists them.

`daylatch.door.works.due` asks the one that the site file names, or reads what is really in use.
"""
