/* The reader on an 8-bit controller, for tests in a simulator: what it answers, and what it costs.
 *
 * Writes to the serial line: the status; the last date; a check of all openings and closings; a check of what the
 * door should be at some minutes of every date, in memory order; the most bytes of stack that a
 * call took; and the cycles of the longest look-up and question.
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <avr/sleep.h>

#include "daylatch_reader.h"

#define DAYLATCH_TABLE_STORAGE PROGMEM
#include "table.h"

#define PAINT 0xA5

static daylatch_reader reader;

static void write_byte(uint8_t byte)
{
    while (!(UCSR0A & (1 << UDRE0))) {}
    UDR0 = byte;
}

static void write_number(uint32_t number)
{
    uint8_t digit;
    for (digit = 0; digit < 8; digit++) {
        write_byte((uint8_t)"0123456789ABCDEF"[number >> 28]);
        number <<= 4;
    }
    write_byte('\n');
}

static uint16_t add_to_check(uint16_t check, uint8_t byte)
{
    uint8_t bit;
    check ^= (uint16_t)((uint16_t)byte << 8);
    for (bit = 0; bit < 8; bit++) {
        check = (uint16_t)((uint16_t)(check << 1) ^ (check & 0x8000U ? 0x1021U : 0U));
    }
    return check;
}

static volatile uint16_t overflows;

ISR(TIMER1_OVF_vect)
{
    overflows++;
}

static void begin_time(void)
{
    TCCR1B = 0;
    TCNT1 = 0;
    overflows = 0;
    TIFR1 = 1 << TOV1;
    TCCR1B = 1 << CS10;
}

static uint32_t end_time(void)
{
    const uint16_t count = TCNT1;
    TCCR1B = 0;
    return ((uint32_t)overflows << 16) + count;
}

/* Paint what lies below the stack, and count what a call left of it. */
static uint8_t *painted;

static void __attribute__((noinline)) empty(void)
{
    __asm__ volatile("");
}

static void __attribute__((noinline)) paint(void)
{
    uint8_t *place = (uint8_t *)SP;
    uint8_t count;
    painted = place;
    for (count = 0; count < 120; count++) *place-- = PAINT;
}

static uint8_t __attribute__((noinline)) depth(void)
{
    const uint8_t *place = painted - 119;
    while (*place == PAINT) place++;
    return (uint8_t)(painted - place + 1);
}

int main(void)
{
    uint16_t date, first, days, step, check = 0xFFFF, doors = 0xFFFF;
    uint32_t longest_time = 0, longest_door = 0;
    uint8_t deepest_time = 0, deepest_door = 0, deepest_start, least, status;

    UCSR0B = 1 << TXEN0;
    TIMSK1 = 0;
    paint();
    empty();
    least = (uint8_t)(depth() - 2U); /* a call of nothing takes its return address, 2 bytes */
    paint();
    status = daylatch_start(&reader, daylatch_table, sizeof daylatch_table);
    deepest_start = depth();
    write_number(status);
    write_number(daylatch_last(&reader));
    TIMSK1 = 1 << TOIE1;
    first = (uint16_t)(pgm_read_byte(daylatch_table + 6) | pgm_read_byte(daylatch_table + 7) << 8);
    days = (uint16_t)(pgm_read_byte(daylatch_table + 8) | pgm_read_byte(daylatch_table + 9) << 8);
    for (date = first; date < (uint16_t)(first + days); date++) {
        uint8_t closing;
        for (closing = 0; closing < 2; closing++) {
            int16_t minute;
            uint32_t cycles;
            uint8_t stack;
            cli();
            paint();
            minute = daylatch_time(&reader, date, closing);
            stack = depth();
            if (stack > deepest_time) deepest_time = stack;
            sei();
            begin_time();
            (void)daylatch_time(&reader, date, closing);
            cycles = end_time();
            if (cycles > longest_time) longest_time = cycles;
            check = add_to_check(check, (uint8_t)minute);
            check = add_to_check(check, (uint8_t)((uint16_t)minute >> 8));
        }
        for (step = (uint16_t)(date & 31U); step < 1440; step = (uint16_t)(step + 37U)) {
            uint32_t cycles;
            uint8_t state, stack;
            cli();
            paint();
            state = daylatch_door(&reader, date, step);
            stack = depth();
            if (stack > deepest_door) deepest_door = stack;
            doors = add_to_check(doors, state);
            if (step > 37U) continue;
            sei();
            begin_time();
            (void)daylatch_door(&reader, date, step);
            cycles = end_time();
            if (cycles > longest_door) longest_door = cycles;
        }
    }
    write_number(check);
    write_number(doors);
    write_number((uint8_t)(deepest_start - least));
    write_number((uint8_t)(deepest_time - least));
    write_number((uint8_t)(deepest_door - least));
    write_number(longest_time);
    write_number(longest_door);
    cli();
    sleep_enable();
    sleep_cpu();
    return 0;
}
