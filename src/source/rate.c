/* Speeds outside the usual list need the kernel's own termios2, whose header can't stand beside
 * <termios.h>: hence this file. */
#include <asm/ioctls.h>
#include <asm/termbits.h>
#include <errno.h>

#include "source/parts.h"

int ioctl(int fd, unsigned long request, ...); /* <sys/ioctl.h> brings clashing structs along */

int rate_set(int fd, int speed) {
    struct termios2 t;
    if (ioctl(fd, TCGETS2, &t) < 0)
        return errno;
    t.c_cflag &= ~(tcflag_t)(CBAUD | CBAUD << IBSHIFT);
    t.c_cflag |= BOTHER | BOTHER << IBSHIFT;
    t.c_ispeed = t.c_ospeed = (speed_t)speed;
    return ioctl(fd, TCSETS2, &t) < 0 ? errno : 0;
}

int rate_get(int fd, int *speed) {
    struct termios2 t;
    if (ioctl(fd, TCGETS2, &t) < 0)
        return errno;
    *speed = (int)t.c_ospeed;
    return 0;
}
