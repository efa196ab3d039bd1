/* Gives the reader one mutated table after another, built with both sanitizers, each table in memory
 * of exactly its size. Whatever is wrong stops the program and says with which table.
 *
 * Arguments: seed, how many tables, of how many one is written out for another reader.
 * Input: tables to begin with, each after its length (2 bytes, lowest first).
 * Output, for each that is written out: its length and bytes; status; the last date (2 bytes); then
 * for each of ASKED dates: the date, opening, closing, a minute (2 bytes each), the door (1 byte).
 */
#include "daylatch_reader.c"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { ASKED = 8, MOST_BASES = 16, MOST_BYTES = 4096, MOST_SECONDS = 20 };

static uint64_t state;
static uint8_t bases[MOST_BASES][MOST_BYTES];
static uint16_t lengths[MOST_BASES];
static unsigned count_of_bases;

/* xorshift64* (S. Vigna, 2016). */
static uint32_t any(uint32_t below)
{
    state ^= state >> 12;
    state ^= state << 25;
    state ^= state >> 27;
    return (uint32_t)((state * 0x2545F4914F6CDD1DULL) >> 33) % below;
}

static uint8_t any_byte(void)
{
    static const uint8_t telling[] = {0, 1, 0x7F, 0x80, 0xE0, 0xFF, 0xF0, 0xF1, 0xF2, 0xF3, 0xF4, 0xF5, 0xF6, 0xF7};
    return any(2) ? telling[any(sizeof telling)] : (uint8_t)any(256);
}

static void put_number(uint8_t *at, uint16_t number)
{
    at[0] = (uint8_t)number;
    at[1] = (uint8_t)(number >> 8);
}

static void give_number(uint16_t number)
{
    putchar(number & 0xFF);
    putchar(number >> 8);
}

/* Fill in a table without its check; return its length. */
static uint16_t mutate(uint8_t *bytes)
{
    const unsigned base = any(count_of_bases);
    uint16_t length = (uint16_t)(lengths[base] - CHECK_LENGTH);
    unsigned changes;

    memcpy(bytes, bases[base], length);
    if (any(3) == 0) {
        /* A head that holds, with few days, and any streams. */
        length = (uint16_t)(HEAD_LENGTH + 6U + any(30));
        bytes[AT_FLAGS] = (uint8_t)(any(8) ? any(3) | (any(4) << 3) : any(256));
        put_number(bytes + AT_DAYS, (uint16_t)(1U + any(12)));
        bytes[AT_CHANGES] = (uint8_t)(any(6) == 0);
        put_number(bytes + AT_OPENING_LENGTH, (uint16_t)(3U + any(14)));
        for (changes = HEAD_LENGTH; changes < length; changes++) bytes[changes] = any_byte();
        if (any(2)) {
            /* Both streams begin with a minute that can be, and one holds for all days. */
            const unsigned at = HEAD_LENGTH + (bytes[AT_CHANGES] ? CHANGE_LENGTH : 0U);
            const unsigned closing = at + 5U;
            put_number(bytes + AT_OPENING_LENGTH, 5);
            length = (uint16_t)(closing + START_LENGTH + 1U + any(20));
            bytes[at] = (uint8_t)(any(2) << 5);
            put_number(bytes + at + 1, (uint16_t)any(1440));
            bytes[at + 3] = (uint8_t)(HOLD + any(3));
            bytes[at + 4] = bytes[AT_DAYS];
            bytes[closing] = (uint8_t)(any(6) << 5);
            put_number(bytes + closing + 1, (uint16_t)any(1440));
        }
        return length;
    }
    for (changes = 1U + any(4); changes; changes--) bytes[2U + any(length - 2U)] = any_byte();
    if (any(4) == 0) {
        /* Bytes that are missing, or stand twice. */
        const uint16_t from = (uint16_t)(HEAD_LENGTH + any(length - HEAD_LENGTH));
        const uint16_t gone = (uint16_t)any((uint32_t)(length - from));
        memmove(bytes + from, bytes + from + gone, (size_t)(length - from - gone));
        length = (uint16_t)(length - gone);
    }
    if (any(16) == 0) length = (uint16_t)any(length);
    return length;
}

static void stop(const char *why, const uint8_t *bytes, uint16_t length)
{
    uint16_t at;
    fprintf(stderr, "%s: ", why);
    for (at = 0; at < length; at++) fprintf(stderr, "%02x", (unsigned)bytes[at]);
    fputc('\n', stderr);
    exit(2);
}

static int can_be(int16_t minute)
{
    return minute <= DAYLATCH_NO_TIME || (minute >= LOWEST_MINUTE - MOST_CHANGED * 15 && minute <= 4319 + MOST_CHANGED * 15);
}

int main(int argc, char **argv)
{
    static uint8_t room[MOST_BYTES + 64];
    unsigned long number, tables, one_of, good = 0;
    int low, high;

    if (argc != 4) return 1;
    state = strtoull(argv[1], 0, 10) * 0x9E3779B97F4A7C15ULL + 1U;
    tables = strtoul(argv[2], 0, 10);
    one_of = strtoul(argv[3], 0, 10);
    while ((low = getchar()) != EOF && (high = getchar()) != EOF && count_of_bases < MOST_BASES) {
        const uint16_t length = (uint16_t)(low | high << 8);
        if (length > MOST_BYTES || fread(bases[count_of_bases], 1, length, stdin) != length) return 1;
        lengths[count_of_bases++] = length;
    }
    if (!count_of_bases) return 1;
    for (number = 0; number < tables; number++) {
        const int told = one_of && number % one_of == 0;
        uint16_t length = mutate(room);
        uint8_t *bytes;
        daylatch_reader reader;
        uint8_t status, asked;
        uint16_t last, first;

        if (number % 1024 == 0) alarm(MOST_SECONDS);
        /* Nearly all get a length and a check that fit, or none would be looked into. */
        if (length >= 6 && any(64)) put_number(room + AT_LENGTH, (uint16_t)(length + CHECK_LENGTH));
        put_number(room + length, check_of(room, length));
        if (any(64) == 0) room[length] ^= 1U;
        length = (uint16_t)(length + CHECK_LENGTH);
        bytes = malloc(length);
        if (!bytes) return 1;
        memcpy(bytes, room, length);
        status = daylatch_start(&reader, bytes, length);
        last = daylatch_last(&reader);
        if (status > DAYLATCH_WRONG) stop("no status", bytes, length);
        if ((status != DAYLATCH_GOOD) != (last == DAYLATCH_NO_DATE)) stop("last date", bytes, length);
        good += status == DAYLATCH_GOOD;
        first = (uint16_t)(length > AT_FIRST + 1 ? bytes[AT_FIRST] | bytes[AT_FIRST + 1] << 8 : 0);
        if (told) {
            give_number(length);
            fwrite(bytes, 1, length, stdout);
            putchar(status);
            give_number(last);
        }
        for (asked = 0; asked < ASKED; asked++) {
            const uint16_t date = (uint16_t)(asked < 6 ? first - 2U + any(asked < 3 ? 8 : 400) : asked == 6 ? last + any(3) : any(65536));
            const uint16_t minute = (uint16_t)any(1440);
            const int16_t opening = daylatch_time(&reader, date, 0);
            const int16_t closing = daylatch_time(&reader, date, 1);
            const uint8_t door = daylatch_door(&reader, date, minute);
            if (!can_be(opening) || !can_be(closing) || door > DAYLATCH_OPEN) stop("no answer", bytes, length);
            if (status != DAYLATCH_GOOD && (opening != DAYLATCH_NO_TIME || closing != DAYLATCH_NO_TIME || door != DAYLATCH_UNKNOWN)) stop("refused, and answers", bytes, length);
            if (told) {
                give_number(date);
                give_number((uint16_t)opening);
                give_number((uint16_t)closing);
                give_number(minute);
                putchar(door);
            }
        }
        free(bytes);
    }
    fprintf(stderr, "%lu of %lu tables could be used\n", good, tables);
    return 0;
}
