/* A door from a table: fill in what your board does, and it runs.
 *
 *   daylatch plan SITE --year 2027 --to table --as c -o table.h
 *
 * As it stands, the clock never answers: so the door is held, and nothing moves.
 */
#ifdef __AVR__
#include <avr/pgmspace.h>
#define DAYLATCH_TABLE_STORAGE PROGMEM /* the table lies in program memory */
#endif
#include "table.h"

#include "door_control.h"

static uint8_t read_clock(void *board, uint16_t *date, uint16_t *minute)
{
    (void)board;
    /* Read the real-time clock. Return 0 if its "oscillator stopped" mark is set, if it does not
     * answer, or if it shows what cannot be. It must keep the table's clock: see
     * daylatch_clock(). */
    *date = daylatch_date(2000, 1, 1);
    *minute = 0;
    return 0;
}

static uint32_t milliseconds(void *board)
{
    (void)board;
    return 0;
}

/* Wire switches so that a broken wire reads as "in the way", and as no end stop: then the motor
 * stops, or its time limit stops it. */
static uint8_t is_open(void *board)
{
    (void)board;
    return 0;
}

static uint8_t is_shut(void *board)
{
    (void)board;
    return 0;
}

static uint8_t in_the_way(void *board)
{
    (void)board;
    return 1;
}

static void motor(void *board, uint8_t direction)
{
    (void)board;
    (void)direction; /* DOOR_STOP, DOOR_TO_OPEN or DOOR_TO_SHUT */
}

static void tell(void *board, uint8_t what)
{
    (void)board;
    /* Blink it, or beep: each in a way of its own. DOOR_TABLE_ENDS comes from 30 days before the
     * table's last date on, while the door still works: a short blink now and then, say. Once the
     * table has ended it is DOOR_UNKNOWN, and the door is held. */
    (void)what;
}

int main(void)
{
    static door_state door;
    const door_board board = {0, read_clock, milliseconds, is_open, is_shut, in_the_way, motor, tell};

    door_start(&door, &board, daylatch_table, sizeof daylatch_table);
    for (;;) {
        door_step(&door);
        /* Feed the watchdog here, and nowhere else. */
    }
}
