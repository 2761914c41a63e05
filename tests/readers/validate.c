/* Reads a calendar on standard input with libical: a line for each entry, with tabs
   between, and how many errors the library found in the whole. */
#include <libical/ical.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static char *all_of(FILE *from)
{
    size_t size = 1 << 16, held = 0, got;
    char *text = malloc(size);
    while ((got = fread(text + held, 1, size - held - 1, from)) > 0) {
        held += got;
        if (size - held < 4096) text = realloc(text, size *= 2);
    }
    text[held] = 0;
    return text;
}

static long instant(icalcomponent *entry, icalproperty_kind kind, icaltimetype when)
{
    icalproperty *one = icalcomponent_get_first_property(entry, kind);
    icalparameter *named = icalproperty_get_first_parameter(one, ICAL_TZID_PARAMETER);
    if (named) {
        icalcomponent *whole = icalcomponent_get_parent(entry);
        icaltimezone *zone = icalcomponent_get_timezone(whole, icalparameter_get_tzid(named));
        if (!zone) return -1;
        when.zone = zone;
        return (long)icaltime_as_timet_with_zone(when, zone);
    }
    return (long)icaltime_as_timet(when);
}

int main(void)
{
    icalerror_set_errors_are_fatal(0);
    icalcomponent *whole = icalparser_parse_string(all_of(stdin));
    if (!whole || icalcomponent_isa(whole) != ICAL_VCALENDAR_COMPONENT) return 1;
    icalcomponent *entry = icalcomponent_get_first_component(whole, ICAL_VEVENT_COMPONENT);
    for (; entry; entry = icalcomponent_get_next_component(whole, ICAL_VEVENT_COMPONENT)) {
        icaltimetype start = icalcomponent_get_dtstart(entry), end = icalcomponent_get_dtend(entry);
        icalproperty *busy = icalcomponent_get_first_property(entry, ICAL_TRANSP_PROPERTY);
        printf("%s\t%ld\t%ld\t%d\t%s\t%s\t%d\t%s\n", icalcomponent_get_uid(entry),
               instant(entry, ICAL_DTSTART_PROPERTY, start), instant(entry, ICAL_DTEND_PROPERTY, end),
               start.is_date, icalenum_status_to_string(icalcomponent_get_status(entry)),
               icalproperty_get_transp(busy) == ICAL_TRANSP_OPAQUE ? "OPAQUE" : "TRANSPARENT",
               icalcomponent_get_sequence(entry), icalcomponent_get_summary(entry));
    }
    printf("%d\n", icalcomponent_count_errors(whole) + !icalrestriction_check(whole));
    return 0;
}
