/* Speeds outside the usual list need the kernel's own termios2, whose header can't stand beside
 * <termios.h>: hence this file. */
#include <asm/ioctls.h>
#include <asm/termbits.h>
#include <errno.h>

#include "source/parts.h"

int ioctl(int fd, unsigned long request, ...); /* <sys/ioctl.h> brings clashing structs along */

/* The usual speeds have codes of their own, which every driver and every other program knows. */
static tcflag_t code_of(int speed) {
    static const struct {
        int speed;
        tcflag_t code;
    } usual[] = {
        {9600, B9600},     {19200, B19200},     {38400, B38400},   {57600, B57600},
        {115200, B115200}, {230400, B230400},   {460800, B460800}, {500000, B500000},
        {921600, B921600}, {1000000, B1000000},
    };
    for (size_t i = 0; i < sizeof usual / sizeof *usual; i++)
        if (usual[i].speed == speed)
            return usual[i].code;
    return BOTHER;
}

int rate_set(int fd, int speed) {
    struct termios2 t;
    if (ioctl(fd, TCGETS2, &t) < 0)
        return errno;
    /* No code for the input side means: the same as the output. */
    t.c_cflag &= ~(tcflag_t)(CBAUD | (tcflag_t)CBAUD << IBSHIFT);
    t.c_cflag |= code_of(speed);
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
