/* daylatch door times: what a networked door should be, by what daylatch home answered.
 *
 * C99 or C++11. No memory of its own, no allocation, no floating point, no recursion, no library.
 * Nothing here knows a network: you ask GET /times.json, and give what came to door_times_take. What
 * the answer says is in docs/reference/networked-door.md.
 *
 * A schedule does not see the birds: count heads at dusk. A door can injure a bird or shut one
 * out: test its obstruction stop. Wiring, mains and batteries follow local electrical codes and a
 * licensed practitioner. Local animal-welfare and housing orders come first.
 */
#ifndef DAYLATCH_DOOR_TIMES_H
#define DAYLATCH_DOOR_TIMES_H

#include "daylatch_reader.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Which format of answers it reads; it refuses any other. */
#define DOOR_TIMES_FORMAT 1

/* How many bytes it takes to keep what is known of the clocks. */
#define DOOR_CLOCKS_LENGTH 10U

/* Room for an answer of four weeks, its head included. */
#define DOOR_TIMES_ROOM 12288U

/* The longest ETag that is kept, and sent back; those of daylatch home have 34 bytes. Our choice. */
#define DOOR_TAG_LONGEST 80

/* Seconds. All are our choice, no source. */
#ifndef DOOR_CLOCKS_APART_S
#define DOOR_CLOCKS_APART_S ((uint32_t)300) /* two clocks that differ by more do not agree */
#endif
#ifndef DOOR_DATE_HOLDS_S
/* How long the time of an answer is counted on: one part in two thousand, worse than any crystal,
 * makes 5 minutes of it. */
#define DOOR_DATE_HOLDS_S ((uint32_t)604800)
#endif
#define DOOR_CLOCK_STANDS_S ((uint32_t)150) /* a clock that shows the same for so long has stopped */
/* 2026-01-01, in seconds since 1970: when this was written no clock could show less and be right. */
#define DOOR_NO_TIME_BEFORE ((uint32_t)1767225600)

/* What became of an answer. What was kept before stays, unless it is DOOR_ANSWER_NEW. */
enum {
    DOOR_ANSWER_NEW,         /* good: it is what is kept now */
    DOOR_ANSWER_SAME,        /* 304: what is kept is still so */
    DOOR_ANSWER_CUT,         /* cut short, or no HTTP answer whose length is told: ask again */
    DOOR_ANSWER_REFUSED,     /* another status, such as 401: tell the keeper */
    DOOR_ANSWER_LATER,       /* 429, or from 500 on: ask again after a minute */
    DOOR_ANSWER_DAMAGED,     /* its check does not fit: ask again */
    DOOR_ANSWER_WRONG,       /* whole, and of another format, or says what cannot be */
    DOOR_ANSWER_OTHER_HOUSE, /* another house's: tell the keeper */
    DOOR_ANSWER_TOO_LONG     /* longer than the room that you gave */
};

/* By what it is known what the door should be. */
enum { DOOR_BY_NOTHING, DOOR_BY_ANSWER, DOOR_BY_TABLE };

/* What is wrong with the clocks. Tell the keeper of all but DOOR_CLOCK_WELL. */
enum {
    DOOR_CLOCK_WELL,
    DOOR_CLOCK_NONE,    /* no clock that can be believed: the door is held */
    DOOR_CLOCK_STOPPED, /* the board's own has stopped; the home's time is gone by while it holds */
    DOOR_CLOCK_DIFFERS, /* the board's own and the home's: the door is held unless both say the same */
    DOOR_CLOCK_BEHIND,  /* earlier than what is kept was answered: the door is held */
    DOOR_CLOCK_UNSURE   /* the board's own alone, never compared with the home's: the door is held */
};

/* The parts of an HTTP answer, as places in it. */
typedef struct {
    uint16_t status, body, body_length, tag, tag_length, house, house_length;
    uint32_t date; /* seconds since 1970; 0 without a date that can be read */
} door_answer;

/* What a board keeps. It is yours to keep; touch nothing in it. */
typedef struct {
    uint8_t *kept;
    const char *house;
    const uint8_t *table;
    daylatch_reader reader;
    door_answer parts;
    uint32_t date, date_s;   /* the newest answer's time, and the counter when it came */
    uint32_t clock, clock_s; /* what the own clock showed, and the counter when it began to */
    uint32_t apart;          /* by how much it was ahead of the home's time, if they differed then */
    uint16_t room, length;
    uint8_t compared; /* what came of it when both clocks were there last */
} door_times;

/* What the door should be, and why. */
typedef struct {
    uint8_t door;    /* DAYLATCH_OPEN, DAYLATCH_SHUT; DAYLATCH_UNKNOWN: leave it, and signal */
    uint8_t by;      /* DOOR_BY_... */
    uint8_t clock;   /* DOOR_CLOCK_... */
    uint8_t planned; /* 1: that is planned, and not known to be due: see the page */
    uint32_t time;   /* by which it was decided, in seconds since 1970; 0 if by none */
} door_said;

/* Take an HTTP answer apart: all bytes that came until the connection ended.
 *
 * Returns DOOR_ANSWER_NEW for a whole one of status 200, DOOR_ANSWER_SAME for 304, or why it is
 * neither. Nothing is said of what is in it.
 */
uint8_t door_answer_read(door_answer *found, const uint8_t *answer, uint16_t length);

/* Whether the head of an answer names a house as its own. Ask it of a table before you keep it: a table
 * does not say whose it is. */
uint8_t door_answer_is_of(const door_answer *parts, const uint8_t *answer, const char *house);

/* Begin, with nothing kept.
 *
 * house  the id of the house, as the site file has it, so that no other house's answer is taken;
 *        null for any
 * room   where answers are kept: DOOR_TIMES_ROOM bytes. Yours to write into storage, and back
 */
void door_times_start(door_times *times, const char *house, uint8_t *room, uint16_t size);

/* Say what to fall back to: a controller table in plain memory, which stays there.
 *
 * Returns what daylatch_start returns. Without DAYLATCH_GOOD there is no table.
 */
uint8_t door_times_table(door_times *times, const uint8_t *table, uint16_t length);

/* Take what came for GET /times.json.
 *
 * counter_s  seconds since the start of the board, by a counter that nobody sets, and that goes on
 *            while the board sleeps. One whose counter does not begins anew when it wakes
 *
 * Returns DOOR_ANSWER_...; after DOOR_ANSWER_NEW put door_times.length bytes of the room into
 * storage, so that they are there after a power cut.
 */
uint8_t door_times_take(door_times *times, const uint8_t *answer, uint16_t length, uint32_t counter_s);

/* After a restart: take what you put back into the room from storage. It tells no time. */
uint8_t door_times_recall(door_times *times, uint16_t length);

/* Write down what is known of the clocks: DOOR_CLOCKS_LENGTH bytes.
 *
 * bytes  what is in storage, or anything else if there is nothing
 *
 * Returns 1 if they changed: put them into storage then, before you move the door. It is seldom, so
 * that no storage wears out.
 */
uint8_t door_times_clocks(const door_times *times, uint8_t *bytes);

/* After a restart: take what door_times_clocks wrote.
 *
 * Returns 0 if it is damaged or none. Then the own clock alone moves nothing until it has been
 * compared with the home's.
 */
uint8_t door_times_recall_clocks(door_times *times, const uint8_t *bytes);

/* Say that somebody has just looked at the own clock, and that it is right. It is gone by alone then,
 * until it differs from the home's. Never say so by a program, unless no home ever tells the time. */
void door_times_trust_clock(door_times *times);

/* What to send as If-None-Match, with its quotes; null for nothing. It is not ended by a zero. */
const uint8_t *door_times_tag(const door_times *times, uint16_t *length);

/* What the door should be now. Ask once a second or so, and move the door until it is so.
 *
 * clock      the board's own, in seconds since 1970 (UTC); 0 if it has none, or says that it stopped
 * counter_s  as for door_times_take
 */
void door_times_door(door_times *times, uint32_t clock, uint32_t counter_s, door_said *said);

/* When the next movement comes after a time, by what is kept; 0 if that knows none. */
uint32_t door_times_next(const door_times *times, uint32_t time);

#ifdef __cplusplus
}
#endif

#endif
