"""Whether the house fits its nights: space, roosts, nests, feed and water."""
