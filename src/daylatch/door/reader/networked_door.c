/* A networked door on a computer with POSIX sockets: asks daylatch home once, keeps what it said, and
 * prints what the door should be, and why. An example to start from: it moves nothing.
 *
 *   cc -std=c99 networked_door.c door_times.c daylatch_reader.c -o networked_door
 *   ./networked_door -i HOUSE-ID 192.168.1.7 8734 token.txt kept
 *
 * HOUSE-ID is the id in the site file, so that no other house's answer is taken; token.txt holds the
 * door's token; the folder `kept` is there already. It speaks HTTP in the clear: whoever is in the
 * network can read the token, and answer in the home's stead. Where others may be in it, speak through
 * a TLS library of your board, and check the certificate.
 *
 * A schedule does not see the birds: count heads at dusk. A door can injure a bird or shut one
 * out: test its obstruction stop. Wiring, mains and batteries follow local electrical codes and a
 * licensed practitioner. Local animal-welfare and housing orders come first.
 */
#define _POSIX_C_SOURCE 200809L

#include "door_times.h"

#include <errno.h>
#include <fcntl.h>
#include <netdb.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

#define TABLE_ROOM 8192U
#define LONGEST_TOKEN 300
#define LONGEST_S 20 /* for one question, whatever the other end does */
#define WAIT_S 5     /* for one step of it */

enum { KNOWN = 0, NOT_KNOWN = 1, USAGE = 2 };

static const char *const ANSWERS[] = {
    "new", "the same", "cut short, or none", "refused", "later",
    "damaged", "wrong", "another house's", "too long"
};
static const char *const DOORS[] = {"unknown, leave it where it is", "shut", "open"};
static const char *const BYS[] = {"nothing", "the answer", "the table"};
static const char *const CLOCKS[] = {
    "well", "none", "the own clock has stopped", "the own clock and the home's differ",
    "earlier than what is kept", "the own clock was never compared with the home's"
};

/* What was typed. */
typedef struct {
    const char *host, *port, *token_file, *folder, *house, *clock;
    unsigned rounds, wait_s;
    int trusts;
} options;

static uint8_t times_room[DOOR_TIMES_ROOM], table_room[TABLE_ROOM], came[65535];
static uint8_t clocks[DOOR_CLOCKS_LENGTH];
static char token[LONGEST_TOKEN];

/* Which counter goes on while the computer sleeps, where there is a choice. */
#ifdef CLOCK_BOOTTIME
#define COUNTER CLOCK_BOOTTIME
#else
#define COUNTER CLOCK_MONOTONIC
#endif

/* Seconds by a counter that nobody sets. */
static uint32_t counter_s(void)
{
    struct timespec now;
    if (clock_gettime(COUNTER, &now) != 0) return 0;
    return (uint32_t)now.tv_sec;
}

/* The own clock, in seconds since 1970; what was given with -c instead, to try things out. */
static uint32_t own_clock(const options *given)
{
    return (uint32_t)(given->clock ? strtoul(given->clock, 0, 10) : (unsigned long)time(0));
}

/* ---- what is kept ---- */

static void path_of(char *path, size_t room, const options *given, const char *name)
{
    if (snprintf(path, room, "%s/%s", given->folder, name) >= (int)room) {
        fprintf(stderr, "the name of the folder is too long\n");
        exit(USAGE);
    }
}

/* Read a file; returns its bytes, 0 without one or if it is larger than the room. */
static uint16_t read_file(const char *path, uint8_t *room, size_t size)
{
    FILE *file = fopen(path, "rb");
    size_t length;
    int more;
    if (!file) return 0;
    length = fread(room, 1, size, file);
    more = fgetc(file) != EOF || ferror(file);
    (void)fclose(file);
    return more ? 0 : (uint16_t)length;
}

/* Write a file so that there is always the old one or the new one, whole. Returns whether it did. */
static int write_file(const options *given, const char *name, const uint8_t *bytes, uint16_t length)
{
    char path[1024], part[1024];
    ssize_t written = -1;
    int file;
    path_of(path, sizeof path, given, name);
    path_of(part, sizeof part, given, "part");
    file = open(part, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    if (file >= 0) {
        written = write(file, bytes, length);
        if (fsync(file) != 0) written = -1;
        if (close(file) != 0) written = -1;
    }
    if (written != (ssize_t)length || rename(part, path) != 0) {
        fprintf(stderr, "%s: cannot be written (%s)\n", path, strerror(errno));
        return 0;
    }
    /* The new name must outlive a power cut, too. */
    file = open(given->folder, O_RDONLY);
    if (file >= 0) {
        (void)fsync(file);
        (void)close(file);
    }
    return 1;
}

/* What was known of the clocks when the program ran last. */
static void recall_clocks(const options *given, door_times *times)
{
    char path[1024];
    path_of(path, sizeof path, given, "clocks");
    if (read_file(path, clocks, sizeof clocks) == sizeof clocks) {
        (void)door_times_recall_clocks(times, clocks);
    }
}

/* Keep what is known of them now. If it cannot be written, nothing is known of them the next time:
 * that is better than what was so before. */
static void keep_clocks(const options *given, const door_times *times)
{
    char path[1024];
    if (!door_times_clocks(times, clocks) || write_file(given, "clocks", clocks, sizeof clocks)) return;
    path_of(path, sizeof path, given, "clocks");
    (void)remove(path);
    memset(clocks, 0, sizeof clocks);
}

/* ---- the network ---- */

static int connected(const options *given)
{
    const struct timeval wait = {WAIT_S, 0};
    struct addrinfo wanted, *found, *one;
    int made = -1;
    memset(&wanted, 0, sizeof wanted);
    wanted.ai_socktype = SOCK_STREAM;
    if (getaddrinfo(given->host, given->port, &wanted, &found) != 0) return -1;
    for (one = found; one && made < 0; one = one->ai_next) {
        made = socket(one->ai_family, one->ai_socktype, one->ai_protocol);
        if (made < 0) continue;
        (void)setsockopt(made, SOL_SOCKET, SO_RCVTIMEO, &wait, sizeof wait);
        (void)setsockopt(made, SOL_SOCKET, SO_SNDTIMEO, &wait, sizeof wait);
        if (connect(made, one->ai_addr, one->ai_addrlen) != 0) {
            (void)close(made);
            made = -1;
        }
    }
    freeaddrinfo(found);
    return made;
}

/* Ask for a path; returns how many bytes came until the other end closed the connection. */
static uint16_t ask(const options *given, const char *path, const uint8_t *tag, uint16_t tag_length)
{
    const uint32_t began_s = counter_s();
    char request[2048];
    uint16_t length = 0;
    /* An address by IPv6 stands in brackets there, without the network card that may follow it. */
    const int is_ipv6 = strchr(given->host, ':') != 0;
    int made, size = snprintf(
        request, sizeof request,
        "GET %s HTTP/1.1\r\nHost: %s%.*s%s\r\nAuthorization: Bearer %s\r\nConnection: close\r\n"
        "%s%.*s%s\r\n",
        path, is_ipv6 ? "[" : "", (int)strcspn(given->host, is_ipv6 ? "%" : ""), given->host,
        is_ipv6 ? "]" : "", token, tag ? "If-None-Match: " : "", tag ? (int)tag_length : 0,
        tag ? (const char *)tag : "", tag ? "\r\n" : "");
    if (size < 0 || size >= (int)sizeof request) return 0;
    made = connected(given);
    if (made < 0) return 0;
    if (send(made, request, (size_t)size, MSG_NOSIGNAL) == (ssize_t)size) {
        while (length < sizeof came && counter_s() - began_s < LONGEST_S) {
            const ssize_t more = recv(made, came + length, sizeof came - length, 0);
            if (more <= 0) break;
            length = (uint16_t)(length + more);
        }
    }
    (void)close(made);
    return length;
}

/* Ask for the times; returns whether it is the home of this house that answered. */
static int ask_times(const options *given, door_times *times)
{
    uint16_t tag_length, length;
    const uint8_t *const tag = door_times_tag(times, &tag_length);
    uint8_t found;
    length = ask(given, "/times.json", tag, tag_length);
    found = door_times_take(times, came, length, counter_s());
    if (found == DOOR_ANSWER_NEW) (void)write_file(given, "times.answer", times->kept, times->length);
    printf("times: %s\n", ANSWERS[found]);
    return found == DOOR_ANSWER_NEW || found == DOOR_ANSWER_SAME;
}

/* Whether an answer is a table that may be kept: DOOR_ANSWER_NEW, or why not. */
static uint8_t judge_table(
    const options *given, door_answer *parts, const uint8_t *answer, uint16_t length)
{
    daylatch_reader tried;
    const uint8_t found = door_answer_read(parts, answer, length);
    if (found == DOOR_ANSWER_SAME) {
        /* It may name no house: what is kept did. */
        if (!given->house || !parts->house) return found;
        if (door_answer_is_of(parts, answer, given->house)) return found;
        return DOOR_ANSWER_OTHER_HOUSE;
    }
    if (found != DOOR_ANSWER_NEW) return found;
    if (length > sizeof table_room) return DOOR_ANSWER_TOO_LONG;
    if (daylatch_start(&tried, answer + parts->body, parts->body_length) != DAYLATCH_GOOD) {
        return DOOR_ANSWER_DAMAGED;
    }
    if (given->house && !door_answer_is_of(parts, answer, given->house)) {
        return DOOR_ANSWER_OTHER_HOUSE;
    }
    return found;
}

/* Go by what is in the room for a table: a whole answer, as it came. */
static void use_table(const options *given, door_times *times, door_answer *parts, uint16_t length)
{
    if (judge_table(given, parts, table_room, length) != DOOR_ANSWER_NEW) parts->body_length = 0;
    if (!parts->body_length) parts->tag_length = 0;
    (void)door_times_table(times, table_room + parts->body, parts->body_length);
}

static void recall_table(const options *given, door_times *times, door_answer *kept)
{
    char path[1024];
    path_of(path, sizeof path, given, "table.answer");
    use_table(given, times, kept, read_file(path, table_room, sizeof table_room));
}

/* Ask for the table. Ask nobody who did not just answer as the home of this house. */
static void ask_table(const options *given, door_times *times, door_answer *kept)
{
    door_answer parts;
    const uint8_t *const tag = kept->tag_length ? table_room + kept->tag : 0;
    const uint16_t length = ask(given, "/table.bin", tag, kept->tag_length);
    uint8_t found = judge_table(given, &parts, came, length);
    if (found == DOOR_ANSWER_SAME && !kept->body_length) found = DOOR_ANSWER_WRONG;
    if (found == DOOR_ANSWER_NEW) {
        memcpy(table_room, came, length);
        (void)write_file(given, "table.answer", came, length);
        use_table(given, times, kept, length);
    }
    printf("table: %s\n", ANSWERS[found]);
}

/* ---- what it prints ---- */

static void print_time(const char *words, uint32_t seconds)
{
    const time_t at = (time_t)seconds;
    struct tm parts;
    char shown[32];
    if (!seconds || !gmtime_r(&at, &parts)) return;
    (void)strftime(shown, sizeof shown, "%Y-%m-%dT%H:%M:%SZ", &parts);
    printf("%s: %s\n", words, shown);
}

static int print_door(const options *given, door_times *times)
{
    door_said said;
    door_times_door(times, own_clock(given), counter_s(), &said);
    keep_clocks(given, times);
    printf("door: %s\n", DOORS[said.door]);
    printf("by: %s%s\n", BYS[said.by], said.planned ? ", only planned" : "");
    printf("clock: %s\n", CLOCKS[said.clock]);
    print_time("time", said.time);
    if (said.by == DOOR_BY_ANSWER) print_time("next", door_times_next(times, said.time));
    (void)fflush(stdout);
    return said.door == DAYLATCH_UNKNOWN ? NOT_KNOWN : KNOWN;
}

/* ---- what was typed ---- */

static int read_options(options *given, int count, char **words)
{
    int letter;
    memset(given, 0, sizeof *given);
    given->rounds = 1;
    while ((letter = getopt(count, words, "c:i:n:sw:")) != -1) {
        switch (letter) {
        case 'c': given->clock = optarg; break;
        case 'i': given->house = optarg; break;
        case 'n': given->rounds = (unsigned)strtoul(optarg, 0, 10); break;
        case 's': given->trusts = 1; break;
        case 'w': given->wait_s = (unsigned)strtoul(optarg, 0, 10); break;
        default: return 0;
        }
    }
    if (count - optind != 4) return 0;
    given->host = words[optind];
    given->port = words[optind + 1];
    given->token_file = words[optind + 2];
    given->folder = words[optind + 3];
    return 1;
}

static int read_token(const options *given)
{
    const uint16_t length = read_file(given->token_file, (uint8_t *)token, sizeof token - 1);
    token[length] = 0;
    token[strcspn(token, "\r\n")] = 0;
    return token[0] != 0;
}

int main(int count, char **words)
{
    static door_times times;
    door_answer table;
    char path[1024];
    options given;
    int found = NOT_KNOWN;
    if (!read_options(&given, count, words)) {
        fprintf(stderr, "networked_door [-i HOUSE-ID] [-c OWN-CLOCK] [-s] [-n ROUNDS -w SECONDS-BETWEEN] "
                        "HOST PORT TOKEN-FILE FOLDER\n");
        return USAGE;
    }
    if (!read_token(&given)) {
        fprintf(stderr, "%s: write the door's token into it\n", given.token_file);
        return USAGE;
    }
    door_times_start(&times, given.house, times_room, sizeof times_room);
    path_of(path, sizeof path, &given, "times.answer");
    (void)door_times_recall(&times, read_file(path, times_room, sizeof times_room));
    recall_table(&given, &times, &table);
    recall_clocks(&given, &times);
    if (given.trusts) door_times_trust_clock(&times);
    for (; given.rounds; given.rounds--) {
        if (ask_times(&given, &times)) {
            ask_table(&given, &times, &table);
        } else {
            printf("table: not asked for\n");
        }
        found = print_door(&given, &times);
        if (given.rounds > 1) (void)sleep(given.wait_s);
    }
    return found;
}
