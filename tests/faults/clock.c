/* Moves the clock of one process: the seconds in the file that CLOCK_FILE names are added to the real time. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/time.h>
#include <time.h>

static long moved(void) {
    const char *name = getenv("CLOCK_FILE");
    FILE *file = name ? fopen(name, "r") : NULL;
    long seconds = 0;
    if (file) {
        if (fscanf(file, "%ld", &seconds) != 1) seconds = 0;
        fclose(file);
    }
    return seconds;
}

int clock_gettime(clockid_t which, struct timespec *out) {
    static int (*real)(clockid_t, struct timespec *);
    if (!real) real = dlsym(RTLD_NEXT, "clock_gettime");
    int answer = real(which, out);
    if (!answer && which == CLOCK_REALTIME) out->tv_sec += moved();
    return answer;
}

int gettimeofday(struct timeval *out, void *zone) {
    static int (*real)(struct timeval *, void *);
    if (!real) real = dlsym(RTLD_NEXT, "gettimeofday");
    int answer = real(out, zone);
    if (!answer) out->tv_sec += moved();
    return answer;
}

time_t time(time_t *out) {
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    if (out) *out = now.tv_sec;
    return now.tv_sec;
}
