/* The ports of this machine.  sp_list_ports isn't used: it opens motherboard ports to see whether
 * they are real, and opening raises DTR. */
#include <dirent.h>
#include <errno.h>
#include <libserialport.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "source/parts.h"

/* Copies what fits, with '?' for anything a terminal could trip over. */
static void copy_plain(char *to, size_t size, const char *from) {
    size_t i = 0;
    for (; from[i] && i + 1 < size; i++)
        to[i] = from[i] >= 0x20 && from[i] <= 0x7E ? from[i] : '?';
    to[i] = '\0';
}

/* The serial8250 driver makes names for ports that aren't there; their type is 0. */
static bool is_placeholder(const char *name) {
    char path[300];
    int type = 0;
    snprintf(path, sizeof path, "/sys/class/tty/%s/type", name);
    FILE *f = fopen(path, "re");
    if (f && fscanf(f, "%d", &type) != 1)
        type = 0;
    if (f)
        fclose(f);
    return type == 0;
}

static bool is_port(const char *name) {
    char path[300], link[512];
    snprintf(path, sizeof path, "/sys/class/tty/%s", name);
    ssize_t len = readlink(path, link, sizeof link - 1);
    if (len <= 0)
        return false;
    link[len] = '\0';
    if (strstr(link, "/virtual/"))
        return false;
    return !strstr(link, "serial8250") || !is_placeholder(name);
}

/* Looks for the link to the device that comes first by name, so that the answer never changes. */
static bool stable_name(char *path, size_t size, const char *folder, dev_t rdev) {
    DIR *dir = opendir(folder);
    if (!dir)
        return false;
    bool found = false;
    for (struct dirent *d; (d = readdir(dir));) {
        char name[512];
        struct stat st;
        int len = snprintf(name, sizeof name, "%s/%s", folder, d->d_name);
        if (len < 0 || (size_t)len >= size || stat(name, &st) < 0 || !S_ISCHR(st.st_mode))
            continue;
        if (st.st_rdev != rdev || (found && strcmp(name, path) >= 0))
            continue;
        memcpy(path, name, (size_t)len + 1);
        found = true;
    }
    closedir(dir);
    return found;
}

static bool any_stable_name(char *path, size_t size, dev_t rdev) {
    return stable_name(path, size, "/dev/serial/by-id", rdev) ||
           stable_name(path, size, "/dev/serial/by-path", rdev);
}

bool source_stable(const char *device, char *path, size_t size) {
    struct stat st;
    return stat(device, &st) == 0 && S_ISCHR(st.st_mode) && any_stable_name(path, size, st.st_rdev);
}

static void find_serial(const char *device, char *serial, size_t size) {
    struct sp_port *port = NULL;
    if (sp_get_port_by_name(device, &port) != SP_OK)
        return;
    const char *told = sp_get_port_usb_serial(port);
    snprintf(serial, size, "%s", told ? told : "");
    sp_free_port(port);
}

void source_identify(const char *path, struct source_identity *out) {
    struct nature n;
    struct source_error error;
    *out = (struct source_identity){.serial = ""};
    if (nature_find(&n, path, &error) != SOURCE_OK || n.kind != SOURCE_SERIAL)
        return;
    find_serial(n.device, out->serial, sizeof out->serial);
    stable_name(out->name, sizeof out->name, "/dev/serial/by-id", n.rdev);
}

/* A fact that only one side has differs: a board doesn't lose its serial number. */
enum source_match source_match(const struct source_identity *first,
                               const struct source_identity *now) {
    if (strcmp(first->serial, now->serial) != 0 || strcmp(first->name, now->name) != 0)
        return MATCH_OTHER;
    return first->serial[0] != '\0' && first->name[0] != '\0' ? MATCH_SAME : MATCH_UNKNOWN;
}

/* 1: a port, 0: none, -1 with errno. */
static int describe(struct source_port *p, const char *name) {
    struct stat st;
    struct sp_port *port = NULL;
    int len = snprintf(p->device, sizeof p->device, "/dev/%s", name);
    if (len < 0 || (size_t)len >= sizeof p->device || !is_port(name))
        return 0;
    if (stat(p->device, &st) < 0 || !S_ISCHR(st.st_mode))
        return 0; /* sysfs may show ports that this container doesn't have */
    enum sp_return found = sp_get_port_by_name(p->device, &port);
    if (found != SP_OK) {
        errno = ENOMEM;
        return found == SP_ERR_MEM ? -1 : 0;
    }
    const char *words = sp_get_port_description(port);
    copy_plain(p->description, sizeof p->description, words ? words : name);
    if (sp_get_port_usb_vid_pid(port, &p->vendor, &p->product) != SP_OK)
        p->vendor = p->product = -1;
    sp_free_port(port);
    if (!any_stable_name(p->path, sizeof p->path, st.st_rdev))
        memcpy(p->path, p->device, (size_t)len + 1);
    return 1;
}

/* ttyUSB2 before ttyUSB10. */
static bool comes_before(const struct source_port *a, const struct source_port *b) {
    return strverscmp(a->device, b->device) < 0;
}

/* Keeps the first ones in order when there is no room for all. */
static void insert(struct source_port *ports, size_t size, size_t used,
                   const struct source_port *p) {
    size_t at = used < size ? used : size;
    while (at > 0 && comes_before(p, &ports[at - 1])) {
        if (at < size)
            ports[at] = ports[at - 1];
        at--;
    }
    if (at < size)
        ports[at] = *p;
}

int source_list(struct source_port *ports, size_t size) {
    DIR *dir = opendir("/sys/class/tty");
    if (!dir)
        return -1;
    size_t count = 0;
    int is_one = 0;
    for (struct dirent *d; is_one >= 0 && (d = readdir(dir));) {
        struct source_port p = {0};
        is_one = d->d_name[0] != '.' ? describe(&p, d->d_name) : 0;
        if (is_one > 0)
            insert(ports, size, count++, &p);
    }
    closedir(dir);
    return is_one < 0 ? -1 : (int)count;
}
