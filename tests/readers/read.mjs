// Reads a calendar with ical.js and prints what it understood, as JSON.
import { readFileSync } from "node:fs";
import ICAL from "ical.js";

const calendar = new ICAL.Component(ICAL.parse(readFileSync(0, "utf-8")));
for (const zone of calendar.getAllSubcomponents("vtimezone")) {
  ICAL.TimezoneService.register(new ICAL.Timezone(zone));
}

const instant = (time) => (time.isDate ? time.toString() : time.toJSDate().toISOString());

const entries = calendar.getAllSubcomponents("vevent").map((component) => {
  const event = new ICAL.Event(component);
  return {
    uid: event.uid,
    start: instant(event.startDate),
    end: instant(event.endDate),
    sequence: event.sequence,
    status: component.getFirstPropertyValue("status"),
    summary: event.summary,
    location: event.location,
    description: event.description,
    alarms: component
      .getAllSubcomponents("valarm")
      .map((alarm) => alarm.getFirstPropertyValue("trigger").toSeconds()),
  };
});
process.stdout.write(JSON.stringify(entries));
