/* Answers for tests, from the reader as it is: built with both sanitizers, and with the table in
 * memory of exactly its size, so that one byte too many read stops the program.
 *
 * Input, again and again: length of a table (2 bytes, lowest first), its bytes, first and last date
 * to ask for (2 bytes each), step in minutes (2 bytes; 0 asks for no door).
 * Output: status; the last date (2 bytes); then for each date opening and closing (2 bytes each), and for each minute asked
 * what the door should be (1 byte).
 */
#include "daylatch_reader.c"

#include <stdio.h>
#include <stdlib.h>

static int take_number(uint16_t *number)
{
    const int low = getchar();
    const int high = getchar();
    if (low == EOF || high == EOF) return 0;
    *number = (uint16_t)(low | high << 8);
    return 1;
}

static void give_number(int16_t number)
{
    putchar(number & 0xFF);
    putchar((number >> 8) & 0xFF);
}

int main(void)
{
    static const uint8_t nine[] = {'1', '2', '3', '4', '5', '6', '7', '8', '9'};
    daylatch_reader reader;
    uint16_t length;

    give_number((int16_t)check_of(nine, sizeof nine));
    while (take_number(&length)) {
        uint8_t *const bytes = malloc(length ? length : 1U);
        uint16_t first, last, step, date, minute;
        if (!bytes || fread(bytes, 1, length, stdin) != length) return 1;
        if (!take_number(&first) || !take_number(&last) || !take_number(&step)) return 1;
        putchar(daylatch_start(&reader, bytes, length));
        give_number((int16_t)daylatch_last(&reader));
        for (date = first;; date++) {
            give_number(daylatch_time(&reader, date, 0));
            give_number(daylatch_time(&reader, date, 1));
            for (minute = 0; step && minute < 1440; minute = (uint16_t)(minute + step)) {
                putchar(daylatch_door(&reader, date, minute));
            }
            if (date == last) break;
        }
        free(bytes);
    }
    return 0;
}
