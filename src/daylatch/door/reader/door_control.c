/* daylatch door control. */
#include "door_control.h"

static uint8_t passed(uint32_t now, uint32_t since, uint32_t wait)
{
    return (uint32_t)(now - since) >= wait; /* right, too, when milliseconds wrap round */
}

static void move(door_state *door, uint32_t now, uint8_t direction)
{
    door->direction = direction;
    door->since_ms = now;
    door->board.motor(door->board.board, direction);
}

static void tell(door_state *door, uint8_t what)
{
    if (what != door->told) door->board.tell(door->board.board, what);
    door->told = what;
}

/* The motor stays off until the keeper has looked, and restarts the controller. */
static void latch(door_state *door, uint32_t now, uint8_t what)
{
    move(door, now, DOOR_STOP);
    door->latched = 1;
    tell(door, what);
}

/* What the door should be, and whether the table ends soon; unknown on a clock that has stopped. */
static uint8_t ask(door_state *door, uint32_t now)
{
    uint16_t date = DAYLATCH_NO_DATE, minute = 0;
    uint8_t wanted;
    if (!door->board.read_clock(door->board.board, &date, &minute)) return DAYLATCH_UNKNOWN;
    if (minute != door->clock_minute) {
        door->clock_minute = minute;
        door->ticked_ms = now;
    } else if (passed(now, door->ticked_ms, DOOR_CLOCK_STOPPED_MS)) {
        /* Kept from coming round again when milliseconds do. */
        door->ticked_ms = (uint32_t)(now - DOOR_CLOCK_STOPPED_MS);
        return DAYLATCH_UNKNOWN;
    }
    wanted = daylatch_door(&door->reader, date, minute);
    if (wanted != DAYLATCH_UNKNOWN) {
        /* The sum cannot wrap round: behind 2099 the door is unknown. */
        const uint16_t ahead = (uint16_t)(date + DOOR_ENDS_DAYS);
        door->well = ahead < daylatch_last(&door->reader) ? DOOR_WELL : DOOR_TABLE_ENDS;
    }
    return wanted;
}

void door_start(door_state *door, const door_board *board, const uint8_t *table, uint16_t room)
{
    const uint32_t now = board->milliseconds(board->board);
    door->board = *board;
    door->told = DOOR_WELL;
    door->well = DOOR_WELL;
    door->tries = 0;
    door->latched = 0;
    door->wanted = DAYLATCH_UNKNOWN;
    door->clock_minute = 0xFFFF;
    door->ticked_ms = now;
    door->asked_ms = (uint32_t)(now - DOOR_ASK_MS);
    move(door, now, DOOR_STOP);
    if (daylatch_start(&door->reader, table, room) != DAYLATCH_GOOD) latch(door, now, DOOR_NO_TABLE);
}

/* The motor turns: whatever ends that comes first. */
static void while_moving(door_state *door, uint32_t now, uint8_t open, uint8_t shut)
{
    if (door->direction == DOOR_TO_SHUT && !shut && door->board.in_the_way(door->board.board)) {
        /* Away from it at once, and wholly. */
        door->tries++;
        move(door, now, DOOR_STOP);
        tell(door, DOOR_IN_THE_WAY);
    } else if (door->direction == DOOR_TO_OPEN ? open : shut) {
        if (door->direction == DOOR_TO_SHUT) door->tries = 0;
        move(door, now, DOOR_STOP);
    } else if (passed(now, door->since_ms, DOOR_LONGEST_RUN_MS)) {
        latch(door, now, DOOR_RAN_TOO_LONG);
    }
}

/* The motor is off: whether it is to turn. */
static void while_resting(door_state *door, uint32_t now, uint8_t open, uint8_t shut)
{
    if (!passed(now, door->since_ms, DOOR_REST_MS)) return;
    if (door->tries && !open && !shut) {
        move(door, now, DOOR_TO_OPEN);
    } else if (door->wanted == DAYLATCH_OPEN) {
        door->tries = 0;
        if (!open) move(door, now, DOOR_TO_OPEN);
        tell(door, door->well);
    } else if (door->wanted == DAYLATCH_UNKNOWN) {
        tell(door, DOOR_UNKNOWN);
    } else if (shut) {
        door->tries = 0;
        tell(door, door->well);
    } else if (door->tries >= DOOR_MOST_TRIES) {
        latch(door, now, DOOR_GAVE_UP);
    } else if (door->board.in_the_way(door->board.board)) {
        tell(door, DOOR_IN_THE_WAY);
    } else if (!door->tries || passed(now, door->since_ms, DOOR_RETRY_MS)) {
        move(door, now, DOOR_TO_SHUT);
        tell(door, door->well);
    }
}

void door_step(door_state *door)
{
    const uint32_t now = door->board.milliseconds(door->board.board);
    const uint8_t open = door->board.is_open(door->board.board);
    const uint8_t shut = door->board.is_shut(door->board.board);

    if (door->latched) return;
    if (open && shut) {
        latch(door, now, DOOR_BOTH_END_STOPS);
        return;
    }
    if (passed(now, door->asked_ms, DOOR_ASK_MS)) {
        door->asked_ms = now;
        door->wanted = ask(door, now);
    }
    if (door->direction == DOOR_STOP) {
        while_resting(door, now, open, shut);
    } else {
        while_moving(door, now, open, shut);
    }
}
