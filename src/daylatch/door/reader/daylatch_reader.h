/* daylatch reader: what a controller table says the door should be.
 *
 * C99 or C++11. No memory of its own, no allocation, no floating point, no recursion, no library.
 *
 * A schedule does not see the birds: count heads at dusk. A door can injure a bird or shut one
 * out: test its obstruction stop. Wiring, mains and batteries follow local electrical codes and a
 * licensed practitioner. Local animal-welfare and housing orders come first.
 */
#ifndef DAYLATCH_READER_H
#define DAYLATCH_READER_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define DAYLATCH_READER_VERSION "1.1"

/* Which format of tables it reads; it refuses any other. */
#define DAYLATCH_FORMAT 1

/* What daylatch_start found. */
#define DAYLATCH_GOOD 0         /* the table can be used */
#define DAYLATCH_NO_TABLE 1     /* the bytes are no table, or are cut short */
#define DAYLATCH_OTHER_FORMAT 2 /* a table of a format that this reader does not know */
#define DAYLATCH_DAMAGED 3      /* the check at the end does not fit */
#define DAYLATCH_WRONG 4        /* the bytes are whole, and say what cannot be */

/* What the door should be. */
#define DAYLATCH_UNKNOWN 0 /* leave it where it is, and signal */
#define DAYLATCH_SHUT 1
#define DAYLATCH_OPEN 2

/* Which clock the times of a table are in. */
#define DAYLATCH_WALL 0     /* the clock on the wall, with its changes */
#define DAYLATCH_STANDARD 1 /* standard time all year */
#define DAYLATCH_UTC 2

/* In place of a date: there is none, or it cannot be trusted. */
#define DAYLATCH_NO_DATE 0xFFFFu

/* In place of a minute of daylatch_time. */
#define DAYLATCH_STAYS_SHUT (-32767 - 1) /* the door stays shut that day */
#define DAYLATCH_NO_ROW (-32767)         /* the plan says nothing about that date */
#define DAYLATCH_NO_TIME (-32766)        /* the table does not know that date */

/* A table in use. It is yours to keep; touch nothing in it. */
typedef struct {
    const uint8_t *bytes; /* null: there is no table that can be used */
    const uint8_t *streams[3];
    uint8_t used_up;
} daylatch_reader;

/* Check a table, wholly. Once is enough, when the controller starts: it takes a moment.
 *
 * reader  is filled in; whatever was found, it can be asked afterwards
 * bytes   where the table lies
 * room    how many bytes may be read there; the table may be shorter
 *
 * Returns DAYLATCH_GOOD, or why the table cannot be used.
 */
uint8_t daylatch_start(daylatch_reader *reader, const uint8_t *bytes, uint16_t room);

/* What the door should be now: DAYLATCH_OPEN, DAYLATCH_SHUT or DAYLATCH_UNKNOWN.
 *
 * Ask again and again, and move the door until it is so: then a power cut heals itself.
 *
 * date    from daylatch_date; DAYLATCH_NO_DATE while the clock has stopped or was never set
 * minute  since midnight, 0 to 1439; both as the table's clock shows them
 *
 * Unknown for a date outside the table, a minute that cannot be, a table that cannot be used; and
 * before the first opening in the table, since it does not hold the closing before it. A last
 * closing after midnight, and in UTC a first opening before it, are still told.
 */
uint8_t daylatch_door(daylatch_reader *reader, uint16_t date, uint16_t minute);

/* When the door opens (closing = 0) or closes (closing = 1) on a date, on the table's clock.
 *
 * Minutes since midnight of that date: below 0 is the day before, 1440 and more the day after. Or
 * DAYLATCH_STAYS_SHUT, DAYLATCH_NO_ROW, DAYLATCH_NO_TIME.
 */
int16_t daylatch_time(daylatch_reader *reader, uint16_t date, uint8_t closing);

/* The last date that the table knows, also when it is one for every year; 2099-12-31 at the latest,
 * for this reader knows none behind it. DAYLATCH_NO_DATE without a table that can be used.
 *
 * Behind it the door is unknown, but for a last closing after midnight: so have a new table made
 * before then.
 */
uint16_t daylatch_last(daylatch_reader *reader);

/* DAYLATCH_WALL, DAYLATCH_STANDARD or DAYLATCH_UTC. Only of a table that can be used. */
uint8_t daylatch_clock(daylatch_reader *reader);

/* The number of a date, 2000-01-01 to 2099-12-31; DAYLATCH_NO_DATE for one that does not exist.
 *
 * It is days since 2000-01-01, so the day after is one more.
 */
uint16_t daylatch_date(uint16_t year, uint8_t month, uint8_t day);

#ifdef __cplusplus
}
#endif

#endif
