"""Keeping a calendar on a CalDAV server (RFC 4791) as the plan says.

What is to be done is worked out from two lists and nothing else
(`daylatch.calendars.sync.differences`); only `daylatch.calendars.sync.server` speaks with a server,
and only `daylatch.calendars.sync.login` asks for secrets.
"""
