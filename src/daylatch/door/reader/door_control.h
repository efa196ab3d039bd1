/* daylatch door control: a skeleton of what moves a pop door, safely, to where a table says.
 *
 * Your board comes in as functions: a clock, a motor, two end stops, an obstruction stop. Nothing
 * here knows a pin. See door_sketch.c for how they come together.
 *
 * This is an example to start from, and no tested product. A door can injure a bird or shut one
 * out: test the obstruction stop, the end stops and the time limit with your hand off the mains
 * and a soft object in the doorway, before the first bird and again every month. Give the motor a
 * fuse, and a drive that slips or stalls before it crushes. Wiring, mains and batteries follow
 * local electrical codes and a licensed practitioner; batteries near bedding are a fire risk. A
 * schedule does not see the birds: count heads at dusk. Local animal-welfare and housing orders
 * come first.
 */
#ifndef DAYLATCH_DOOR_CONTROL_H
#define DAYLATCH_DOOR_CONTROL_H

#include "daylatch_reader.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Milliseconds; set them for your door. All are our choice, no source. */
#ifndef DOOR_LONGEST_RUN_MS
#define DOOR_LONGEST_RUN_MS 30000UL /* a little more than your door needs on a cold day */
#endif
#ifndef DOOR_REST_MS
#define DOOR_REST_MS 1000UL /* before the motor turns the other way */
#endif
#ifndef DOOR_RETRY_MS
#define DOOR_RETRY_MS 60000UL /* after something stood in the way */
#endif
#ifndef DOOR_MOST_TRIES
#define DOOR_MOST_TRIES 3
#endif
/* A clock that shows the same minute for so long has stopped. */
#define DOOR_CLOCK_STOPPED_MS 150000UL
#define DOOR_ASK_MS 1000UL
/* From so many days before the table's last date on, the keeper is told that it ends. Our choice, no
 * source. */
#ifndef DOOR_ENDS_DAYS
#define DOOR_ENDS_DAYS 30U
#endif

enum { DOOR_STOP, DOOR_TO_OPEN, DOOR_TO_SHUT };

/* What the keeper is to be told, by a lamp or a beep. */
enum {
    DOOR_WELL,
    DOOR_UNKNOWN,        /* no trusted time, or a date outside the table: the door is held */
    DOOR_NO_TABLE,       /* the table cannot be used: the door is held */
    DOOR_IN_THE_WAY,     /* something is in the way; it tries again */
    DOOR_GAVE_UP,        /* something stayed in the way: the door stays open, look at it now */
    DOOR_RAN_TOO_LONG,   /* the motor ran and no end stop came: it stays off, look at it now */
    DOOR_BOTH_END_STOPS, /* open and shut at once: a switch or a wire is broken; motor off */
    DOOR_TABLE_ENDS      /* all is well, but the table ends soon: put a new one in */
};

/* What your board can do. Each gets `board` back as its first argument. */
typedef struct {
    void *board;
    /* Date (from daylatch_date) and minute, as the table's clock shows them. Returns 0 if the clock
     * has stopped, was never set, or did not answer. */
    uint8_t (*read_clock)(void *board, uint16_t *date, uint16_t *minute);
    uint32_t (*milliseconds)(void *board); /* since the start; may wrap round */
    uint8_t (*is_open)(void *board);       /* the end stop: the door is wholly open */
    uint8_t (*is_shut)(void *board);
    uint8_t (*in_the_way)(void *board);    /* the obstruction stop */
    void (*motor)(void *board, uint8_t direction);
    void (*tell)(void *board, uint8_t what);
} door_board;

/* A door and what it is doing. It is yours to keep. */
typedef struct {
    daylatch_reader reader;
    door_board board;
    uint32_t since_ms;  /* when it began to move or to rest */
    uint32_t asked_ms;  /* when the table was asked */
    uint32_t ticked_ms; /* when the clock last went on */
    uint16_t clock_minute;
    uint8_t direction, wanted, told, tries, latched;
    uint8_t well; /* what is told while all is well: DOOR_WELL or DOOR_TABLE_ENDS */
} door_state;

/* Begin, with the motor off. */
void door_start(door_state *door, const door_board *board, const uint8_t *table, uint16_t room);

/* Do what is to be done now. Call it in your main loop, at least ten times a second, and let a
 * watchdog restart the controller if it is not called. */
void door_step(door_state *door);

#ifdef __cplusplus
}
#endif

#endif
