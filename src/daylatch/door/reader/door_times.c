/* daylatch door times. How to use it is in the header; what an answer says, and why the clocks are
 * gone by as they are, in docs/reference/networked-door.md. */
#include "door_times.h"

#define DAY_S ((uint32_t)86400)
#define HOUR_S ((uint32_t)3600)
#define QUARTER_S ((int32_t)900)
#define YEAR_2000 ((uint32_t)946684800) /* in seconds since 1970 */
#define CHECK_MEMBER ",\"check\":\""

enum { CHECK_MEMBER_LENGTH = 10, CHECK_LENGTH = 16, DATE_LENGTH = 29 };

/* Where the parts of a table's head are; see docs/reference/table.md. */
enum { AT_FIRST = 6, AT_OFFSET = 11, AT_CHANGES = 12, HEAD_LENGTH = 15, CHANGE_LENGTH = 3 };

/* A clock is changed in the night: between these hours, on the evening before the first day of the
 * new time and on the morning of that day. */
#define EVENING_BEFORE_S (20U * HOUR_S)
#define MORNING_AFTER_S (5U * HOUR_S)

/* What came of it when the own clock and the home's were compared last. The numbers are kept. */
enum { NOT_COMPARED = 0, AGREED = 1, DIFFERED = 2 };

/* How what is known of the clocks is kept: "DC", a number for the layout, what came of it, by how much
 * they differed (lowest byte first), and the check of all that. */
enum { CLOCKS_LAYOUT = 1, AT_LAYOUT = 2, AT_COMPARED = 3, AT_APART = 4, AT_CLOCKS_CHECK = 8 };

/* By how much the difference may drift until it is written down anew. */
#define DRIFT_S ((uint32_t)60)

/* Text that is being read: from `at`, up to `end`. */
typedef struct {
    const uint8_t *at, *end;
} text;

/* ---- text ---- */

static uint8_t lower(uint8_t letter)
{
    return letter >= 'A' && letter <= 'Z' ? (uint8_t)(letter + 32) : letter;
}

/* Whether a text begins with some words, letter by letter; if so, it goes on behind them. */
static uint8_t begins(text *read, const char *words)
{
    const uint8_t *at = read->at;
    while (*words) {
        if (at == read->end || *at != (uint8_t)*words) return 0;
        at++;
        words++;
    }
    read->at = at;
    return 1;
}

/* Whether it begins with some words, which are given in small letters, in any case. */
static uint8_t begins_as(text *read, const char *words)
{
    const uint8_t *at = read->at;
    while (*words) {
        if (at == read->end || lower(*at) != (uint8_t)*words) return 0;
        at++;
        words++;
    }
    read->at = at;
    return 1;
}

/* Read a word of three small letters from a list of them, in any case; returns its place, or the
 * length of the list if it is none of them. */
static uint8_t word_of(text *read, const char *words, uint8_t count)
{
    uint8_t place, letter;
    for (place = 0; place < count; place++, words += 3) {
        for (letter = 0; letter < 3; letter++) {
            if (read->end - read->at < 3 || lower(read->at[letter]) != (uint8_t)words[letter]) break;
        }
        if (letter == 3) {
            read->at += 3;
            break;
        }
    }
    return place;
}

/* Go on behind the next place where some words stand, letter by letter. */
static uint8_t find(text *read, const char *words)
{
    const uint8_t *from;
    for (from = read->at; from != read->end; from++) {
        const uint8_t *at = from;
        const char *word = words;
        while (*word && at != read->end && *at == (uint8_t)*word) {
            at++;
            word++;
        }
        if (!*word) {
            read->at = at;
            return 1;
        }
    }
    return 0;
}

/* Read a whole number of at most 32 bits. */
static uint8_t number(text *read, uint32_t *value)
{
    const uint8_t *const from = read->at;
    *value = 0;
    while (read->at != read->end && *read->at >= '0' && *read->at <= '9') {
        const uint32_t digit = (uint32_t)(*read->at - '0');
        if (*value > ((uint32_t)0xFFFFFFFF - digit) / 10U) return 0;
        *value = *value * 10U + digit;
        read->at++;
    }
    return read->at != from;
}

/* ---- an HTTP answer ---- */

/* Read the only form of dates that may be sent (RFC 9110, 5.6.7): Thu, 26 Nov 2026 16:31:00 GMT.
 *
 * Returns seconds since 1970; 0 if it is none. The weekday must fit, as one more check.
 */
static uint32_t date_in(text read)
{
    uint32_t day, year, hour, minute, second;
    uint16_t date;
    uint8_t weekday, month;
    if (read.end - read.at != DATE_LENGTH) return 0;
    weekday = word_of(&read, "sunmontuewedthufrisat", 7);
    if (!begins(&read, ", ") || !number(&read, &day) || !begins(&read, " ")) return 0;
    month = word_of(&read, "janfebmaraprmayjunjulaugsepoctnovdec", 12);
    if (!begins(&read, " ") || !number(&read, &year) || !begins(&read, " ")) return 0;
    if (!number(&read, &hour) || !begins(&read, ":")) return 0;
    if (!number(&read, &minute) || !begins(&read, ":")) return 0;
    if (!number(&read, &second) || !begins_as(&read, " gmt")) return 0;
    if (day > 31 || year > 2099 || hour > 23 || minute > 59 || second > 59) return 0;
    date = daylatch_date((uint16_t)year, (uint8_t)(month + 1), (uint8_t)day);
    /* 2000-01-01 was a Saturday. */
    if (date == DAYLATCH_NO_DATE || (date + 6U) % 7U != weekday) return 0;
    return YEAR_2000 + date * DAY_S + hour * HOUR_S + minute * 60U + second;
}

/* Whether it may be sent back as it is: a tag as RFC 9110 (8.8.3) has it, and not long. Anything else
 * could be a line of its own there, or `*`, by which every answer would be the same. */
static uint8_t is_tag(text value)
{
    if (value.end - value.at > DOOR_TAG_LONGEST) return 0;
    (void)begins(&value, "W/");
    if (!begins(&value, "\"")) return 0;
    for (; value.at != value.end; value.at++) {
        if (*value.at == '"') return value.at + 1 == value.end;
        if (*value.at <= ' ' || *value.at > '~') return 0;
    }
    return 0;
}

/* Take a line of the head; returns 0 for what makes the whole answer one that cannot be read. */
static uint8_t take_line(door_answer *found, const uint8_t *answer, text line, uint8_t *lengths)
{
    text value = line;
    uint32_t length;
    while (value.at != value.end && *value.at != ':') value.at++;
    if (value.at == value.end) return 0;
    value.at++;
    while (value.at != value.end && *value.at == ' ') value.at++;
    while (value.end != value.at && value.end[-1] == ' ') value.end--;
    if (begins_as(&line, "transfer-encoding:")) return 0;
    if (begins_as(&line, "content-length:")) {
        if (!number(&value, &length) || value.at != value.end || length > 0xFFFFU) return 0;
        if (*lengths && length != found->body_length) return 0;
        found->body_length = (uint16_t)length;
        *lengths = 1;
    } else if (begins_as(&line, "date:")) {
        found->date = date_in(value);
    } else if (begins_as(&line, "etag:")) {
        found->tag = (uint16_t)(value.at - answer);
        found->tag_length = is_tag(value) ? (uint16_t)(value.end - value.at) : 0;
    } else if (begins_as(&line, "daylatch-house:")) {
        if (found->house) return 0;
        found->house = (uint16_t)(value.at - answer);
        found->house_length = (uint16_t)(value.end - value.at);
    }
    return 1;
}

uint8_t door_answer_read(door_answer *found, const uint8_t *answer, uint16_t length)
{
    const door_answer nothing = {0, 0, 0, 0, 0, 0, 0, 0};
    text read, line;
    uint32_t status;
    uint8_t lengths = 0;
    *found = nothing;
    read.at = answer;
    read.end = answer + length;
    if (!begins(&read, "HTTP/1.")) return DOOR_ANSWER_CUT;
    line = read;
    if (!find(&read, "\r\n")) return DOOR_ANSWER_CUT;
    line.end = read.at - 2;
    if (line.end - line.at < 5 || line.at[1] != ' ') return DOOR_ANSWER_CUT;
    line.at += 2;
    if (!number(&line, &status) || status < 100 || status > 599) return DOOR_ANSWER_CUT;
    for (;;) {
        line.at = read.at;
        if (!find(&read, "\r\n")) return DOOR_ANSWER_CUT;
        line.end = read.at - 2;
        if (line.at == line.end) break;
        if (!take_line(found, answer, line, &lengths)) return DOOR_ANSWER_CUT;
    }
    found->status = (uint16_t)status;
    found->body = (uint16_t)(read.at - answer);
    if (status == 304) return DOOR_ANSWER_SAME;
    if (status == 429 || status >= 500) return DOOR_ANSWER_LATER;
    if (status != 200) return DOOR_ANSWER_REFUSED;
    if (!lengths || (uint16_t)(read.end - read.at) != found->body_length) return DOOR_ANSWER_CUT;
    return DOOR_ANSWER_NEW;
}

uint8_t door_answer_is_of(const door_answer *parts, const uint8_t *answer, const char *house)
{
    text named;
    if (!parts->house) return 0;
    named.at = answer + parts->house;
    named.end = named.at + parts->house_length;
    return begins(&named, house) && named.at == named.end;
}

/* ---- what an answer says ---- */

/* CRC-16: polynomial 0x1021, begun with 0xFFFF, not reflected. */
static uint16_t check_of(const uint8_t *at, const uint8_t *end)
{
    uint16_t check = 0xFFFF;
    for (; at != end; at++) {
        uint8_t bit;
        check = (uint16_t)(check ^ ((uint16_t)*at << 8));
        for (bit = 8; bit; bit--) {
            check = (uint16_t)((uint16_t)(check << 1) ^ (check & 0x8000U ? 0x1021U : 0U));
        }
    }
    return check;
}

/* Whether the last member is the check of all that stands before it. */
static uint8_t check_fits(text body)
{
    static const char digits[] = "0123456789abcdef";
    text end = body;
    uint16_t check;
    uint8_t shift;
    if (body.end - body.at < CHECK_LENGTH) return 0;
    end.at = body.end - CHECK_LENGTH;
    check = check_of(body.at, end.at);
    if (!begins(&end, CHECK_MEMBER)) return 0;
    for (shift = 16; shift; end.at++) {
        shift = (uint8_t)(shift - 4);
        if (*end.at != (uint8_t)digits[(check >> shift) & 0x0F]) return 0;
    }
    return begins(&end, "\"}");
}

/* Go on behind one string, or one other character; say how deep in braces and brackets that is.
 * Returns 0 at the end. */
static uint8_t step(text *read, uint16_t *depth)
{
    if (read->at == read->end) return 0;
    if (*read->at == '"') {
        for (read->at++; read->at != read->end; read->at++) {
            if (*read->at == '"') {
                read->at++;
                return 1;
            }
            if (*read->at == '\\' && ++read->at == read->end) break;
        }
        return 0;
    }
    if (*read->at == '{' || *read->at == '[') {
        if (*depth == 0xFFFFU) return 0;
        (*depth)++;
    } else if (*read->at == '}' || *read->at == ']') {
        if (!*depth) return 0;
        (*depth)--;
    }
    read->at++;
    return 1;
}

/* Go on to the value of a member of the object that a text begins with, and of none inside of that:
 * what is added later may have members of the same name. A name is given with its quotes and its
 * colon, by which it is no string among the values. */
static uint8_t to_member(text *read, const char *name)
{
    text at = *read;
    uint16_t depth = 0;
    if (at.at == at.end || *at.at != '{') return 0;
    while (step(&at, &depth) && depth) {
        if (depth == 1 && begins(&at, name)) {
            read->at = at.at;
            return 1;
        }
    }
    return 0;
}

static uint8_t number_of(text body, const char *member, uint32_t *value)
{
    return to_member(&body, member) && number(&body, value);
}

static uint8_t door_of(text body, const char *member)
{
    if (!to_member(&body, member)) return DAYLATCH_UNKNOWN;
    if (begins(&body, "\"open\"")) return DAYLATCH_OPEN;
    return begins(&body, "\"shut\"") ? DAYLATCH_SHUT : DAYLATCH_UNKNOWN;
}

/* A movement, in the list. */
typedef struct {
    uint32_t time;
    uint8_t door, planned;
} movement;

/* Begin with the list. */
static uint8_t to_list(text *body)
{
    return to_member(body, "\"movements\":") && begins(body, "[");
}

/* Read the next movement; returns 0 behind the last, and 2 if it cannot be read. */
static uint8_t next_of(text *list, movement *next)
{
    text one;
    uint16_t depth = 0;
    (void)begins(list, ",");
    if (begins(list, "]")) return 0;
    one.at = list->at;
    if (list->at == list->end || *list->at != '{') return 2;
    do {
        if (!step(list, &depth)) return 2;
    } while (depth);
    one.end = list->at;
    next->door = door_of(one, "\"to\":");
    if (next->door == DAYLATCH_UNKNOWN || !number_of(one, "\"unix\":", &next->time)) return 2;
    if (!to_member(&one, "\"known\":")) return 2;
    next->planned = begins(&one, "false");
    if (!next->planned && !begins(&one, "true")) return 2;
    return 1;
}

/* Whether all that is read later is there, and can be. */
static uint8_t can_be(text body)
{
    movement one;
    uint32_t from, until, last;
    uint8_t more;
    if (!number_of(body, "\"holds_from_unix\":", &from)) return 0;
    if (!number_of(body, "\"holds_until_unix\":", &until) || from >= until) return 0;
    if (door_of(body, "\"state\":") == DAYLATCH_UNKNOWN) return 0;
    if (!to_list(&body)) return 0;
    last = from - 1U;
    while ((more = next_of(&body, &one)) == 1) {
        if (one.time <= last || one.time < from || one.time >= until) return 0;
        last = one.time;
    }
    return more == 0;
}

/* Whether its head names another house. One that came by MQTT has none that could. */
static uint8_t is_of_another(const door_times *times, const uint8_t *answer, const door_answer *parts)
{
    return times->house && parts->house && !door_answer_is_of(parts, answer, times->house);
}

static uint8_t is_of_house(text body, const char *house)
{
    if (!house) return 1;
    return to_member(&body, "\"house\":\"") && begins(&body, house) && begins(&body, "\"");
}

static text body_of(const uint8_t *answer, const door_answer *parts)
{
    text body;
    body.at = answer + parts->body;
    body.end = body.at + parts->body_length;
    return body;
}

/* Whether a whole answer may be kept: DOOR_ANSWER_NEW, or why not. */
static uint8_t judge(const door_times *times, const uint8_t *answer, const door_answer *parts)
{
    const text body = body_of(answer, parts);
    uint32_t format;
    if (!check_fits(body)) return DOOR_ANSWER_DAMAGED;
    if (!number_of(body, "\"daylatch_times\":", &format)) return DOOR_ANSWER_WRONG;
    if (format != DOOR_TIMES_FORMAT) return DOOR_ANSWER_WRONG;
    if (!is_of_house(body, times->house)) return DOOR_ANSWER_OTHER_HOUSE;
    if (is_of_another(times, answer, parts)) return DOOR_ANSWER_OTHER_HOUSE;
    return can_be(body) ? DOOR_ANSWER_NEW : DOOR_ANSWER_WRONG;
}

/* ---- what is kept ---- */

void door_times_start(door_times *times, const char *house, uint8_t *room, uint16_t size)
{
    times->kept = room;
    times->room = size;
    times->house = house;
    times->length = 0;
    times->table = 0;
    times->date = 0;
    times->date_s = 0;
    times->clock = 0;
    times->clock_s = 0;
    times->apart = 0;
    times->compared = NOT_COMPARED;
    (void)daylatch_start(&times->reader, room, 0);
}

uint8_t door_times_table(door_times *times, const uint8_t *table, uint16_t length)
{
    const uint8_t found = daylatch_start(&times->reader, table, length);
    times->table = found == DAYLATCH_GOOD ? table : 0;
    return found;
}

uint8_t door_times_take(door_times *times, const uint8_t *answer, uint16_t length, uint32_t counter_s)
{
    door_answer parts;
    uint8_t found = door_answer_read(&parts, answer, length);
    if (found == DOOR_ANSWER_SAME) {
        /* It can only be the same as what is there. */
        if (!times->length) return DOOR_ANSWER_WRONG;
        if (is_of_another(times, answer, &parts)) return DOOR_ANSWER_OTHER_HOUSE;
    } else {
        uint16_t at;
        if (found == DOOR_ANSWER_NEW) found = judge(times, answer, &parts);
        if (found != DOOR_ANSWER_NEW) return found;
        if (length > times->room) return DOOR_ANSWER_TOO_LONG;
        for (at = 0; at < length; at++) times->kept[at] = answer[at];
        times->length = length;
        times->parts = parts;
    }
    if (parts.date >= DOOR_NO_TIME_BEFORE) {
        times->date = parts.date;
        times->date_s = counter_s;
    }
    return found;
}

uint8_t door_times_recall(door_times *times, uint16_t length)
{
    door_answer parts;
    uint8_t found;
    times->length = 0;
    if (length > times->room) return DOOR_ANSWER_TOO_LONG;
    found = door_answer_read(&parts, times->kept, length);
    if (found == DOOR_ANSWER_SAME) return DOOR_ANSWER_WRONG;
    if (found == DOOR_ANSWER_NEW) found = judge(times, times->kept, &parts);
    if (found != DOOR_ANSWER_NEW) return found;
    times->length = length;
    times->parts = parts;
    return found;
}

uint8_t door_times_clocks(const door_times *times, uint8_t *bytes)
{
    uint8_t wanted[DOOR_CLOCKS_LENGTH] = {'D', 'C', CLOCKS_LAYOUT, 0, 0, 0, 0, 0, 0, 0};
    uint16_t check;
    uint8_t at, changed = 0;
    wanted[AT_COMPARED] = times->compared;
    for (at = 0; at < 4; at++) wanted[AT_APART + at] = (uint8_t)(times->apart >> (8 * at));
    check = check_of(wanted, wanted + AT_CLOCKS_CHECK);
    wanted[AT_CLOCKS_CHECK] = (uint8_t)check;
    wanted[AT_CLOCKS_CHECK + 1] = (uint8_t)(check >> 8);
    for (at = 0; at < DOOR_CLOCKS_LENGTH; at++) {
        if (bytes[at] != wanted[at]) changed = 1;
        bytes[at] = wanted[at];
    }
    return changed;
}

uint8_t door_times_recall_clocks(door_times *times, const uint8_t *bytes)
{
    const uint16_t check = check_of(bytes, bytes + AT_CLOCKS_CHECK);
    uint8_t at;
    times->compared = NOT_COMPARED;
    times->apart = 0;
    if (bytes[0] != 'D' || bytes[1] != 'C' || bytes[AT_LAYOUT] != CLOCKS_LAYOUT) return 0;
    if (bytes[AT_CLOCKS_CHECK] != (uint8_t)check) return 0;
    if (bytes[AT_CLOCKS_CHECK + 1] != (uint8_t)(check >> 8)) return 0;
    if (bytes[AT_COMPARED] > DIFFERED) return 0;
    times->compared = bytes[AT_COMPARED];
    for (at = 0; at < 4; at++) times->apart |= (uint32_t)bytes[AT_APART + at] << (8 * at);
    return 1;
}

void door_times_trust_clock(door_times *times)
{
    times->compared = AGREED;
    times->apart = 0;
}

const uint8_t *door_times_tag(const door_times *times, uint16_t *length)
{
    *length = times->length ? times->parts.tag_length : 0;
    return *length ? times->kept + times->parts.tag : 0;
}

uint32_t door_times_next(const door_times *times, uint32_t time)
{
    text body;
    movement one;
    if (!times->length) return 0;
    body = body_of(times->kept, &times->parts);
    if (!to_list(&body)) return 0;
    while (next_of(&body, &one) == 1) {
        if (one.time > time) return one.time;
    }
    return 0;
}

/* ---- what the door should be ---- */

/* By the table, at a time on a clock that is some seconds ahead of UTC. */
static uint8_t on_clock(door_times *times, uint32_t time, int32_t ahead_s)
{
    const uint32_t shown = time - YEAR_2000 + (uint32_t)ahead_s;
    const uint32_t date = shown / DAY_S;
    if (date >= DAYLATCH_NO_DATE) return DAYLATCH_UNKNOWN;
    return daylatch_door(&times->reader, (uint16_t)date, (uint16_t)(shown % DAY_S / 60U));
}

/* By the table. In the night in which its clock changes, both times of that clock must say the same,
 * since a table does not tell the hour of the change. */
static uint8_t by_table(door_times *times, uint32_t time)
{
    const uint8_t *const table = times->table;
    const uint8_t *change;
    int32_t ahead_s;
    uint16_t first;
    uint8_t left, found;
    if (!table || time < YEAR_2000 + DAY_S) return DAYLATCH_UNKNOWN;
    first = (uint16_t)(table[AT_FIRST] | (uint16_t)((uint16_t)table[AT_FIRST + 1] << 8));
    ahead_s = (int8_t)table[AT_OFFSET] * QUARTER_S;
    change = table + HEAD_LENGTH;
    for (left = table[AT_CHANGES]; left; left--, change += CHANGE_LENGTH) {
        const uint16_t days = (uint16_t)(change[0] | (uint16_t)((uint16_t)change[1] << 8));
        const int32_t after_s = ahead_s + (int8_t)change[2] * QUARTER_S;
        const uint32_t day = YEAR_2000 + ((uint32_t)first + days) * DAY_S;
        if (time + (uint32_t)ahead_s < day - DAY_S + EVENING_BEFORE_S) break;
        if (time + (uint32_t)after_s < day + MORNING_AFTER_S) {
            found = on_clock(times, time, ahead_s);
            return found == on_clock(times, time, after_s) ? found : DAYLATCH_UNKNOWN;
        }
        ahead_s = after_s;
    }
    return on_clock(times, time, ahead_s);
}

/* At a time: by the answer that is kept while it holds, else by the table. */
static void say_at(door_times *times, uint32_t time, door_said *said)
{
    said->by = DOOR_BY_NOTHING;
    said->door = DAYLATCH_UNKNOWN;
    said->planned = 0;
    said->time = time;
    if (times->length) {
        text body = body_of(times->kept, &times->parts);
        movement one;
        uint32_t from = 0, until = 0;
        (void)number_of(body, "\"holds_from_unix\":", &from);
        (void)number_of(body, "\"holds_until_unix\":", &until);
        if (time + DOOR_CLOCKS_APART_S < from) {
            /* When the home answered, that movement was past. */
            said->clock = DOOR_CLOCK_BEHIND;
            return;
        }
        if (time < until) {
            said->by = DOOR_BY_ANSWER;
            said->door = door_of(body, "\"state\":");
            (void)to_list(&body);
            while (next_of(&body, &one) == 1 && (one.time <= time || one.time == from)) {
                said->door = one.door;
                said->planned = one.planned;
            }
            return;
        }
    }
    said->door = by_table(times, time);
    if (said->door != DAYLATCH_UNKNOWN) said->by = DOOR_BY_TABLE;
}

/* The board's own clock, if it can be believed; else 0. */
static uint32_t own_clock(door_times *times, uint32_t clock, uint32_t counter_s, door_said *said)
{
    if (clock < DOOR_NO_TIME_BEFORE) {
        times->clock = 0;
        return 0;
    }
    if (clock != times->clock) {
        times->clock = clock;
        times->clock_s = counter_s;
    } else if (counter_s - times->clock_s >= DOOR_CLOCK_STANDS_S) {
        said->clock = DOOR_CLOCK_STOPPED;
        return 0;
    }
    return clock;
}

/* The home's time, counted on from its newest answer; 0 if that is too long ago. */
static uint32_t home_clock(const door_times *times, uint32_t counter_s)
{
    const uint32_t gone_s = counter_s - times->date_s;
    if (!times->date || gone_s > DOOR_DATE_HOLDS_S) return 0;
    return times->date + gone_s;
}

static uint32_t between(uint32_t one, uint32_t other)
{
    return one > other ? one - other : other - one;
}

/* Compare the two clocks. */
static void compare(door_times *times, uint32_t own, uint32_t home)
{
    const uint8_t before = times->compared;
    if (between(own, home) <= DOOR_CLOCKS_APART_S) {
        door_times_trust_clock(times);
        return;
    }
    times->compared = DIFFERED;
    if (before != DIFFERED || between(own - times->apart, home) > DRIFT_S) times->apart = own - home;
}

void door_times_door(door_times *times, uint32_t clock, uint32_t counter_s, door_said *said)
{
    uint32_t own, home;
    said->door = DAYLATCH_UNKNOWN;
    said->by = DOOR_BY_NOTHING;
    said->clock = DOOR_CLOCK_WELL;
    said->planned = 0;
    said->time = 0;
    own = own_clock(times, clock, counter_s, said);
    home = home_clock(times, counter_s);
    if (own && home) {
        compare(times, own, home);
    } else if (own && times->compared == DIFFERED) {
        /* One of them was wrong, and nobody has said which: so the home's goes on by the own one. */
        home = own - times->apart;
    }
    if (!own && !home) {
        if (said->clock == DOOR_CLOCK_WELL) said->clock = DOOR_CLOCK_NONE;
    } else if (!home && times->compared == NOT_COMPARED) {
        said->clock = DOOR_CLOCK_UNSURE;
    } else if (own && home && times->compared == DIFFERED) {
        door_said other;
        say_at(times, own, &other);
        say_at(times, home, said);
        if (said->door != other.door) {
            said->door = DAYLATCH_UNKNOWN;
            said->by = DOOR_BY_NOTHING;
        }
        said->clock = DOOR_CLOCK_DIFFERS;
    } else {
        say_at(times, home ? home : own, said);
    }
}
