/* daylatch reader. What the bytes mean is in docs/reference/table.md; how to use it, in the header.
 *
 * A stream is a tape: to know a day, the reader goes along it from its begin. That takes a
 * fraction of a millisecond on an 8-bit controller, and needs no memory.
 */
#include "daylatch_reader.h"

#ifdef __AVR__
#include <avr/pgmspace.h>
#define OWN_CONSTANT PROGMEM
#define READ_OWN(address) pgm_read_byte(address)
#else
#define OWN_CONSTANT
#define READ_OWN(address) (*(address))
#endif

/* How a byte of the table is read, by its address as a pointer to const uint8_t. Define it before,
 * if the table lies elsewhere, as in an EEPROM behind a function. */
#ifndef DAYLATCH_READ
#define DAYLATCH_READ(address) READ_OWN(address)
#endif

/* Where the parts of the head are. */
enum {
    AT_FORMAT = 2,
    AT_FLAGS = 3,
    AT_LENGTH = 4,
    AT_FIRST = 6,
    AT_DAYS = 8,
    AT_CHANGES = 12,
    AT_OPENING_LENGTH = 13,
    HEAD_LENGTH = 15,
    CHANGE_LENGTH = 3,
    CHECK_LENGTH = 2,
    START_LENGTH = 3
};

enum { CLOCK = 0x03, EVERY_YEAR = 0x04, OPENING_AS_SHOWN = 0x08, KNOWN_FLAGS = 0x1F };

#define MAGIC 0x7CDAU
#define SLOTS_OF_EVERY_YEAR 366U
#define SLOT_OF_29_FEBRUARY 59U
#define FOUR_YEARS 1461U /* the first is a leap year; so it is from 2000 to 2099 */
#define LAST_DATE 36524U /* 2099-12-31 */
#define MOST_CHANGED 192 /* quarters of an hour */

/* Minutes are held as their distance from the lowest: one comparison tells whether they can be. */
#define LOWEST_MINUTE (-2880)
#define SPAN_OF_MINUTES (4319U + 2880U)

enum { MOST_FRACTION_BITS = 5, RAW = 7 };

#define RAW_SHUT 0x8000U
#define RAW_NO_ROW 0x8001U

enum { JUMP = 0xF0, FAR_JUMP, SLOPE, LEVEL, HOLD, SHUT, NO_ROW };

#define BROKEN DAYLATCH_NO_TIME

/* C99 leaves these two to the compiler. One that does them otherwise stops here. */
typedef char shift_keeps_the_sign[(-5 >> 1) == -3 ? 1 : -1];
typedef char byte_becomes_negative[(int8_t)0xFF == -1 ? 1 : -1];

static const uint8_t RUN_DAYS[15] OWN_CONSTANT = {
    1, 2, 3, 4, 5, 6, 7, 8, 9, 11, 13, 16, 20, 26, 36
};

static uint8_t byte_at(const uint8_t *at)
{
    return (uint8_t)DAYLATCH_READ(at);
}

static uint16_t word_at(const uint8_t *at)
{
    const uint8_t low = byte_at(at);
    return (uint16_t)(low | (uint16_t)((uint16_t)byte_at(at + 1) << 8));
}

/* Go along a stream to a slot, counted from 0. All that lies between is checked.
 *
 * Returns a minute or a word of the header; BROKEN if the stream is not as it should be. Behind a
 * stream lie two bytes more at least: so a token that is cut off does no harm, and is seen later.
 */
static int16_t find_slot(daylatch_reader *reader, uint8_t closing, uint16_t slot)
{
    const uint8_t *at = reader->streams[closing];
    const uint8_t *const end = reader->streams[closing + 1U];
    uint16_t minute;
    uint8_t bits, fraction, mask, token = 0, days = 0;
    int8_t slope = 0;

    if (end - at < START_LENGTH) return BROKEN;
    fraction = byte_at(at++);
    bits = (uint8_t)(fraction >> 5);
    fraction &= 0x1F;
    if (bits == RAW) {
        if (slot >= (uint16_t)(end - at) / 2U) return BROKEN;
        at += 2U * slot;
        slot = 0;
        bits = 0;
        days = 1;
    } else if (bits > MOST_FRACTION_BITS) {
        return BROKEN;
    }
    mask = (uint8_t)((1U << bits) - 1U);
    if (fraction > mask) return BROKEN;
    minute = word_at(at);
    at += 2;
    if (days && minute >= RAW_SHUT && minute <= RAW_NO_ROW) {
        token = (uint8_t)(SHUT + (minute & 1U));
        minute = 0;
    }
    minute = (uint16_t)(minute - (uint16_t)LOWEST_MINUTE);

    for (;;) {
        uint8_t argument;
        if (minute > SPAN_OF_MINUTES) return BROKEN;
        if (days > slot) break;
        if (at >= end) return BROKEN;
        slot = (uint16_t)(slot - days);
        days = 0;
        token = byte_at(at++);
        if (token < JUMP) {
            int16_t moved = (int16_t)(slope + ((token & 0x0F) ^ 0x08) - 0x08);
            slope = (int8_t)moved;
            if (slope != moved) return BROKEN;
            days = READ_OWN(RUN_DAYS + (token >> 4));
            /* A run goes one way, so that its days between need no look. */
            moved = (int16_t)(slope * (days > slot ? (uint8_t)(slot + 1U) : days) + fraction);
            fraction = (uint8_t)(moved & mask);
            minute = (uint16_t)(minute + (uint16_t)(moved >> bits));
            continue;
        }
        if (token == LEVEL) {
            slope = 0;
            continue;
        }
        argument = byte_at(at++);
        if (token == SLOPE) {
            slope = (int8_t)argument;
        } else if (token <= FAR_JUMP) {
            int16_t by = (int8_t)argument;
            if (token == FAR_JUMP) by = (int16_t)(argument | (uint16_t)((uint16_t)byte_at(at++) << 8));
            /* It may wrap round, and then never comes to a minute that can be. */
            minute = (uint16_t)(minute + (uint16_t)by);
        } else {
            if (token > NO_ROW || !argument) return BROKEN;
            if (token == HOLD) slope = 0;
            days = argument;
        }
    }
    reader->used_up = at == end && (token < HOLD || days == slot + 1U);
    if (token == SHUT) return DAYLATCH_STAYS_SHUT;
    if (token == NO_ROW) return DAYLATCH_NO_ROW;
    return (int16_t)((int16_t)minute + LOWEST_MINUTE);
}

static uint8_t is_raw(const daylatch_reader *reader, uint8_t closing)
{
    return byte_at(reader->streams[closing]) >= RAW << 5;
}

/* CRC-16: polynomial 0x1021, begun with 0xFFFF, not reflected. */
static uint16_t check_of(const uint8_t *at, uint16_t length)
{
    uint16_t check = 0xFFFF;
    while (length--) {
        uint8_t bit;
        check = (uint16_t)(check ^ ((uint16_t)byte_at(at++) << 8));
        for (bit = 8; bit; bit--) {
            check = (uint16_t)((uint16_t)(check << 1) ^ (check & 0x8000U ? 0x1021U : 0U));
        }
    }
    return check;
}

/* Whether both streams hold what they may, and in every slot two minutes or the same other value.
 *
 * When each of them holds, the one that is behind goes on by a token, until it ends.
 */
static uint8_t streams_fit(daylatch_reader *reader, uint16_t last)
{
    const uint8_t *at, *beyond;
    uint8_t closing = 2, kind = 0;
    uint16_t ahead = 0;
    do {
        uint16_t slot = last;
        closing--;
        if (is_raw(reader, closing)) slot = 0;
        do {
            if (find_slot(reader, closing, slot) == BROKEN) return 0;
        } while (slot++ != last);
        if (!reader->used_up) return 0;
    } while (closing);
    at = reader->streams[0] + (is_raw(reader, 0) ? 1 : START_LENGTH);
    beyond = reader->streams[1] + (is_raw(reader, 1) ? 1 : START_LENGTH);
    while (at != reader->streams[closing + 1U]) {
        uint8_t token = byte_at(at++), days = 1;
        if (is_raw(reader, closing)) {
            /* Of minutes that can be, none has this high byte. */
            const uint8_t high = byte_at(at++);
            token = high == 0x80 ? (uint8_t)(SHUT + token) : 0;
        } else if (token < JUMP) {
            days = READ_OWN(RUN_DAYS + (token >> 4));
        } else if (token != LEVEL) {
            days = byte_at(at++);
            if (token == FAR_JUMP) at++;
            if (token < HOLD) continue;
        } else {
            continue;
        }
        if (token < SHUT) token = 0;
        if (ahead && token != kind) return 0;
        kind = token;
        if (days <= ahead) {
            ahead = (uint16_t)(ahead - days);
        } else {
            const uint8_t *const other = beyond;
            beyond = at;
            at = other;
            ahead = (uint16_t)(days - ahead);
            closing ^= 1;
        }
    }
    return 1;
}

static uint8_t examine(daylatch_reader *reader, const uint8_t *bytes, uint16_t room)
{
    const uint8_t *at = bytes + HEAD_LENGTH;
    const uint8_t *check;
    uint16_t length, days, before = 0;
    int16_t changed = 0;
    uint8_t flags, count;

    if (room < HEAD_LENGTH + CHECK_LENGTH || word_at(bytes) != MAGIC) return DAYLATCH_NO_TABLE;
    if (byte_at(bytes + AT_FORMAT) != DAYLATCH_FORMAT) return DAYLATCH_OTHER_FORMAT;
    length = word_at(bytes + AT_LENGTH);
    if (length < HEAD_LENGTH + CHECK_LENGTH || length > room) return DAYLATCH_NO_TABLE;
    length = (uint16_t)(length - CHECK_LENGTH);
    check = bytes + length;
    if (check_of(bytes, length) != word_at(check)) return DAYLATCH_DAMAGED;

    flags = byte_at(bytes + AT_FLAGS);
    if (flags > KNOWN_FLAGS || (flags & CLOCK) == CLOCK) return DAYLATCH_WRONG;
    days = word_at(bytes + AT_DAYS);
    if (!days || (uint16_t)(0U - days) < word_at(bytes + AT_FIRST)) return DAYLATCH_WRONG;
    for (count = byte_at(bytes + AT_CHANGES); count; count--) {
        uint16_t day;
        if (check - at < CHANGE_LENGTH) return DAYLATCH_WRONG;
        day = word_at(at);
        changed = (int16_t)(changed + (int8_t)byte_at(at + 2));
        if (day <= before || day >= days) return DAYLATCH_WRONG;
        if ((uint16_t)(changed + MOST_CHANGED) > 2U * MOST_CHANGED) return DAYLATCH_WRONG;
        before = day;
        at += CHANGE_LENGTH;
    }
    length = word_at(bytes + AT_OPENING_LENGTH);
    if (length > (uint16_t)(check - at)) return DAYLATCH_WRONG;
    reader->streams[0] = at;
    reader->streams[1] = at + length;
    reader->streams[2] = check;
    if (flags & EVERY_YEAR) days = SLOTS_OF_EVERY_YEAR;
    return streams_fit(reader, (uint16_t)(days - 1U)) ? DAYLATCH_GOOD : DAYLATCH_WRONG;
}

uint8_t daylatch_start(daylatch_reader *reader, const uint8_t *bytes, uint16_t room)
{
    const uint8_t found = examine(reader, bytes, room);
    reader->bytes = found == DAYLATCH_GOOD ? bytes : 0;
    return found;
}

/* The day of a leap year, from 0, that a date is by month and day. */
static uint16_t slot_of_every_year(uint16_t date)
{
    while (date >= FOUR_YEARS) date = (uint16_t)(date - FOUR_YEARS);
    if (date < SLOTS_OF_EVERY_YEAR) return date;
    do {
        date = (uint16_t)(date - 365U);
    } while (date > 365U);
    date--;
    return date < SLOT_OF_29_FEBRUARY ? date : (uint16_t)(date + 1U);
}

uint16_t daylatch_last(daylatch_reader *reader)
{
    const uint8_t *at = reader->bytes;
    uint16_t last;

    if (!at) return DAYLATCH_NO_DATE;
    last = (uint16_t)(word_at(at + AT_FIRST) + word_at(at + AT_DAYS) - 1U);
    return last < LAST_DATE ? last : LAST_DATE;
}

int16_t daylatch_time(daylatch_reader *reader, uint16_t date, uint8_t closing)
{
    const uint8_t *at = reader->bytes;
    uint16_t day;
    int16_t value;
    uint8_t flags;

    /* One more than DAYLATCH_NO_DATE is 0: without a table no date is known. */
    if (date >= (uint16_t)(daylatch_last(reader) + 1U)) return DAYLATCH_NO_TIME;
    day = (uint16_t)(date - word_at(at + AT_FIRST));
    if (day > date) return DAYLATCH_NO_TIME; /* it wrapped round: before the first */
    flags = byte_at(at + AT_FLAGS);
    value = find_slot(reader, closing, flags & EVERY_YEAR ? slot_of_every_year(date) : day);
    if (closing) flags = (uint8_t)(flags >> 1); /* then its bit is where that of openings was */
    if (value < LOWEST_MINUTE || flags & OPENING_AS_SHOWN) return value;
    for (at += HEAD_LENGTH; at != reader->streams[0] && word_at(at) <= day; at += CHANGE_LENGTH) {
        value = (int16_t)(value + 15 * (int8_t)byte_at(at + 2));
    }
    return value;
}

uint8_t daylatch_door(daylatch_reader *reader, uint16_t date, uint16_t minute)
{
    /* Back in time, until a movement is past: it tells. In UTC, tomorrow's opening may come today.
     * The day after tomorrow, and the day before yesterday, stand for their neighbours where the
     * calendar skipped those. */
    uint16_t row = (uint16_t)(date + 2U);
    int16_t now = (int16_t)(minute - 2U * 1440U); /* minutes since midnight of the row's date */
    uint8_t closing = 1, inside = 0;

    if (minute > 1439U) return DAYLATCH_UNKNOWN;
    for (;;) {
        const int16_t time = daylatch_time(reader, row, closing);
        if (now < 1440) {
            inside = time != DAYLATCH_NO_TIME;
        } else if (time == DAYLATCH_NO_TIME || (!inside && closing && time < 1440)) {
            /* Behind the table's last date only its last closing counts, if it is after midnight. */
            return DAYLATCH_UNKNOWN;
        }
        if (time > DAYLATCH_NO_TIME && time <= now) return closing ? DAYLATCH_SHUT : DAYLATCH_OPEN;
        if (!closing) {
            if (now >= 1440 && (time != DAYLATCH_NO_ROW || now >= 2 * 1440)) return DAYLATCH_SHUT;
            row--;
            now = (int16_t)(now + 1440);
        }
        closing ^= 1;
    }
}

uint8_t daylatch_clock(daylatch_reader *reader)
{
    return reader->bytes ? byte_at(reader->bytes + AT_FLAGS) & CLOCK : 0xFF;
}

uint16_t daylatch_date(uint16_t year, uint8_t month, uint8_t day)
{
    uint16_t date;
    uint8_t each, length = 0;

    year = (uint16_t)(year - 2000U);
    if (year > 99 || !month || month > 12) return DAYLATCH_NO_DATE;
    date = (uint16_t)(365U * year + ((year + 3U) >> 2));
    for (each = 1; each <= month; each++) {
        date = (uint16_t)(date + length);
        length = (uint8_t)(30 + ((each ^ (each >> 3)) & 1));
        if (each == 2) length = year & 3 ? 28 : 29;
    }
    if (!day || day > length) return DAYLATCH_NO_DATE;
    return (uint16_t)(date + day - 1U);
}
