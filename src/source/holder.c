#include <dirent.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "source/parts.h"

/* Directories under /proc/PID, by number. */
static int number_of(const char *name) {
    char *end;
    long n = strtol(name, &end, 10);
    return *name >= '0' && *name <= '9' && *end == '\0' ? (int)n : -1;
}

static bool holds_lock(int pid, int fd) {
    char path[64], line[128];
    snprintf(path, sizeof path, "/proc/%d/fdinfo/%d", pid, fd);
    FILE *f = fopen(path, "re");
    bool found = false;
    while (f && !found && fgets(line, sizeof line, f))
        found = strncmp(line, "lock:", 5) == 0;
    if (f)
        fclose(f);
    return found;
}

enum hold { HOLD_NONE, HOLD_OPEN, HOLD_LOCKED };

static enum hold hold_of(int pid, dev_t rdev, int skip_fd) {
    char path[64];
    snprintf(path, sizeof path, "/proc/%d/fd", pid);
    DIR *dir = opendir(path);
    if (!dir)
        return HOLD_NONE;
    enum hold hold = HOLD_NONE;
    for (struct dirent *d; hold != HOLD_LOCKED && (d = readdir(dir));) {
        struct stat st;
        int fd = number_of(d->d_name);
        if (fd < 0 || fd == skip_fd || fstatat(dirfd(dir), d->d_name, &st, 0) < 0)
            continue;
        if (S_ISCHR(st.st_mode) && st.st_rdev == rdev)
            hold = holds_lock(pid, fd) ? HOLD_LOCKED : HOLD_OPEN;
    }
    closedir(dir);
    return hold;
}

static void name_of(int pid, char name[static 64]) {
    char path[64], comm[32] = "";
    snprintf(path, sizeof path, "/proc/%d/comm", pid);
    FILE *f = fopen(path, "re");
    if (f && !fgets(comm, sizeof comm, f))
        comm[0] = '\0';
    if (f)
        fclose(f);
    comm[strcspn(comm, "\n")] = '\0';
    for (char *c = comm; *c; c++)
        if (*c < 0x20 || *c > 0x7E)
            *c = '?'; /* a program may call itself anything */
    snprintf(name, 64, "%s (pid %d)", comm[0] ? comm : "?", pid);
}

static bool holder_among(dev_t rdev, int own_fd, bool with_us, char name[static 64]) {
    name[0] = '\0';
    DIR *proc = opendir("/proc");
    if (!proc)
        return false;
    enum hold best = HOLD_NONE;
    int us = (int)getpid();
    for (struct dirent *d; best != HOLD_LOCKED && (d = readdir(proc));) {
        int pid = number_of(d->d_name);
        if (pid < 0 || (pid == us && !with_us))
            continue;
        enum hold hold = hold_of(pid, rdev, pid == us ? own_fd : -1);
        if (hold > best) {
            best = hold;
            name_of(pid, name);
        }
    }
    closedir(proc);
    return best != HOLD_NONE;
}

bool holder_find(dev_t rdev, int own_fd, char name[static 64]) {
    return holder_among(rdev, own_fd, true, name);
}

bool holder_other(dev_t rdev, char name[static 64]) {
    return holder_among(rdev, -1, false, name);
}
