"""Keeping a calendar on a CalDAV server (RFC 4791) as the plan says.

What is to be done is worked out from two lists and nothing else (`daylatch.sync.differences`); only
`daylatch.sync.server` speaks with a server, and only `daylatch.sync.login` asks for secrets.
"""
