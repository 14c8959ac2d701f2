/* Preloaded into the program under trial: a disk that fails and a clock that jumps, as told by two small files.

   HALFNUT_TRIAL_FAULT names a file with "ERRNO CALLS [PASS COUNT]": CALLS holds w (writes), s (syncs), t (cutting to
   a length), o (making files), r (reads), R (reads of the write-ahead log alone), k (flock), l (locks of ranges, as
   SQLite takes them). While it is there, these calls fail on files of a path that holds "logbook.sqlite3"; given PASS
   and COUNT, the first PASS of them succeed, the next COUNT fail, and all after these succeed again.
   HALFNUT_TRIAL_CLOCK names a file with the seconds by which the wall clock is wrong. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

#define REAL(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))

static int told(const char *variable, char *text, size_t size) {
    const char *path = getenv(variable);
    int saved = errno, handle = path ? REAL(open)(path, O_RDONLY | O_CLOEXEC) : -1;
    ssize_t count = handle < 0 ? -1 : REAL(read)(handle, text, size - 1);
    if (handle >= 0) close(handle);
    errno = saved;
    if (count < 0) return 0;
    text[count] = 0;
    return 1;
}

static int fails_at(const char *path, char call) {
    static int seen;
    char text[64], calls[32];
    int number, pass = 0, count = -1;
    if (!strstr(path, "logbook.sqlite3") || !told("HALFNUT_TRIAL_FAULT", text, sizeof text)) return 0;
    if (sscanf(text, "%d %31s %d %d", &number, calls, &pass, &count) < 2 || !strchr(calls, call)) return 0;
    if (count >= 0 && (seen++ < pass || seen > pass + count)) return 0;
    errno = number;
    return 1;
}

static int fails(int handle, char call) {
    char link[64], path[4096];
    snprintf(link, sizeof link, "/proc/self/fd/%d", handle);
    ssize_t size = readlink(link, path, sizeof path - 1);
    if (size < 0) return 0;
    path[size] = 0;
    return fails_at(path, call);
}

ssize_t pwrite(int handle, const void *data, size_t size, off_t place) {
    return fails(handle, 'w') ? -1 : REAL(pwrite)(handle, data, size, place);
}
ssize_t pwrite64(int handle, const void *data, size_t size, off64_t place) {
    return fails(handle, 'w') ? -1 : REAL(pwrite64)(handle, data, size, place);
}
ssize_t write(int handle, const void *data, size_t size) {
    return fails(handle, 'w') ? -1 : REAL(write)(handle, data, size);
}
static int read_fails(int handle) {
    char link[64], path[4096];
    snprintf(link, sizeof link, "/proc/self/fd/%d", handle);
    ssize_t size = readlink(link, path, sizeof path - 1);
    if (size < 0) return 0;
    path[size] = 0;
    return fails_at(path, 'r') || (strstr(path, "-wal") && fails_at(path, 'R'));
}

ssize_t pread(int handle, void *data, size_t size, off_t place) {
    return read_fails(handle) ? -1 : REAL(pread)(handle, data, size, place);
}
ssize_t pread64(int handle, void *data, size_t size, off64_t place) {
    return read_fails(handle) ? -1 : REAL(pread64)(handle, data, size, place);
}
ssize_t read(int handle, void *data, size_t size) {
    return read_fails(handle) ? -1 : REAL(read)(handle, data, size);
}
int fcntl64(int handle, int command, ...) {
    va_list more;
    va_start(more, command);
    void *found = va_arg(more, void *);
    va_end(more);
    int locks = command == F_SETLK || command == F_SETLKW;
    return locks && fails(handle, 'l') ? -1 : REAL(fcntl64)(handle, command, found);
}
int flock(int handle, int how) { return how != LOCK_UN && fails(handle, 'k') ? -1 : REAL(flock)(handle, how); }
int fsync(int handle) { return fails(handle, 's') ? -1 : REAL(fsync)(handle); }
int fdatasync(int handle) { return fails(handle, 's') ? -1 : REAL(fdatasync)(handle); }
int ftruncate(int handle, off_t size) { return fails(handle, 't') ? -1 : REAL(ftruncate)(handle, size); }
int ftruncate64(int handle, off64_t size) { return fails(handle, 't') ? -1 : REAL(ftruncate64)(handle, size); }

int open(const char *path, int flags, ...) {
    va_list more;
    va_start(more, flags);
    mode_t mode = va_arg(more, mode_t);
    va_end(more);
    return (flags & O_CREAT) && fails_at(path, 'o') ? -1 : REAL(open)(path, flags, mode);
}
int open64(const char *path, int flags, ...) {
    va_list more;
    va_start(more, flags);
    mode_t mode = va_arg(more, mode_t);
    va_end(more);
    return (flags & O_CREAT) && fails_at(path, 'o') ? -1 : REAL(open64)(path, flags, mode);
}

static long wrong_by(void) {
    char text[64];
    return told("HALFNUT_TRIAL_CLOCK", text, sizeof text) ? atol(text) : 0;
}

int clock_gettime(clockid_t clock, struct timespec *found) {
    int result = REAL(clock_gettime)(clock, found);
    if (result == 0 && clock == CLOCK_REALTIME) found->tv_sec += wrong_by();
    return result;
}
int gettimeofday(struct timeval *found, void *zone) {
    int result = REAL(gettimeofday)(found, zone);
    if (result == 0) found->tv_sec += wrong_by();
    return result;
}
time_t time(time_t *found) {
    time_t now = REAL(time)(NULL) + wrong_by();
    if (found) *found = now;
    return now;
}
