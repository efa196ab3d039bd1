// Prints what ical.js understands of calendar files, as JSON: an object by file name.
// Usage: node read_calendars.mjs FILE...
import { readFileSync } from "node:fs";
import ICAL from "ical.js";

const floating = ICAL.Timezone.localTimezone;

function moment(time) {
  if (time.isDate) {
    return { date: time.toString() };
  }
  if (time.zone === floating || !time.zone) {
    return { floating: time.toString() };
  }
  return { unix_s: time.toUnixTime() };
}

function understand(path) {
  // Nothing of a zone but what the file itself says of it.
  ICAL.TimezoneService.reset();
  const calendar = new ICAL.Component(ICAL.parse(readFileSync(path, "utf-8")));
  for (const zone of calendar.getAllSubcomponents("vtimezone")) {
    ICAL.TimezoneService.register(zone);
  }
  const events = calendar.getAllSubcomponents("vevent").map((component) => {
    const event = new ICAL.Event(component);
    return {
      uid: event.uid,
      summary: event.summary,
      description: event.description,
      location: event.location,
      start: moment(event.startDate),
      end: moment(event.endDate),
      sequence: event.sequence,
      status: component.getFirstPropertyValue("status"),
      stamp: moment(component.getFirstPropertyValue("dtstamp")),
      reminders_s: component
        .getAllSubcomponents("valarm")
        .map((alarm) => alarm.getFirstPropertyValue("trigger").toSeconds()),
      recurring: event.isRecurring(),
    };
  });
  return {
    name: calendar.getFirstPropertyValue("name"),
    description: calendar.getFirstPropertyValue("description"),
    color: calendar.getFirstPropertyValue("color"),
    refresh_s: calendar.getFirstPropertyValue("refresh-interval")?.toSeconds(),
    events,
  };
}

const found = Object.fromEntries(process.argv.slice(2).map((path) => [path, understand(path)]));
process.stdout.write(JSON.stringify(found));
