/* Asks door_times what comes on standard input, and answers each question at once.
 *
 * Whatever it is given lies in memory of exactly its size, so that the sanitizers see every step
 * past its end. Numbers of more than one byte have their lowest byte first.
 */
#include "door_times.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static uint32_t get(int bytes)
{
    uint32_t value = 0;
    int shift;
    for (shift = 0; shift < 8 * bytes; shift += 8) {
        const int byte = getchar();
        if (byte == EOF) exit(0);
        value |= (uint32_t)byte << shift;
    }
    return value;
}

static void put(uint32_t value, int bytes)
{
    for (; bytes; bytes--, value >>= 8) putchar((int)(value & 0xFFU));
}

static uint8_t *get_bytes(uint16_t *length)
{
    uint8_t *bytes;
    *length = (uint16_t)get(2);
    bytes = (uint8_t *)malloc(*length ? *length : 1U);
    if (!bytes || fread(bytes, 1, *length, stdin) != *length) exit(1);
    return bytes;
}

int main(void)
{
    static door_times times;
    static char house[100];
    uint8_t *room = 0, *table = 0, *bytes;
    const uint8_t *tag;
    uint16_t length;
    uint32_t first, second;
    static uint8_t clocks[DOOR_CLOCKS_LENGTH];
    door_said said;

    for (;;) {
        switch ((char)get(1)) {
        case 'B': /* begin: room, house */
            first = get(2);
            free(room);
            room = (uint8_t *)malloc(first ? first : 1U);
            if (!room) return 1;
            bytes = get_bytes(&length);
            memcpy(house, bytes, length);
            house[length] = 0;
            free(bytes);
            door_times_start(&times, length ? house : 0, room, (uint16_t)first);
            break;
        case 'T':
            free(table);
            table = get_bytes(&length);
            put(door_times_table(&times, table, length), 1);
            break;
        case 'A':
            first = get(4);
            bytes = get_bytes(&length);
            put(door_times_take(&times, bytes, length, first), 1);
            free(bytes);
            break;
        case 'R':
            bytes = get_bytes(&length);
            if (length <= times.room) memcpy(room, bytes, length);
            free(bytes);
            put(door_times_recall(&times, length), 1);
            break;
        case 'K': /* keep what is known of the clocks, beside what was kept before */
            first = door_times_clocks(&times, clocks);
            put(first, 1);
            fwrite(clocks, 1, sizeof clocks, stdout);
            break;
        case 'C':
            bytes = get_bytes(&length);
            if (length != sizeof clocks) return 1;
            memcpy(clocks, bytes, sizeof clocks);
            put(door_times_recall_clocks(&times, bytes), 1);
            free(bytes);
            break;
        case 'W':
            door_times_trust_clock(&times);
            break;
        case 'D':
            first = get(4);
            second = get(4);
            door_times_door(&times, first, second, &said);
            put(said.door, 1);
            put(said.by, 1);
            put(said.clock, 1);
            put(said.planned, 1);
            put(said.time, 4);
            put(door_times_next(&times, said.time), 4);
            break;
        case 'G':
            tag = door_times_tag(&times, &length);
            put(length, 2);
            if (tag) fwrite(tag, 1, length, stdout);
            break;
        default:
            return 1;
        }
        fflush(stdout);
    }
}
