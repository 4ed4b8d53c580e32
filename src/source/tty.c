#include <errno.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <termios.h>

#include "source/parts.h"

int tty_keep_lines(int fd) {
    struct termios t;
    if (tcgetattr(fd, &t) < 0)
        return errno;
    t.c_cflag &= ~(tcflag_t)HUPCL;
    return tcsetattr(fd, TCSANOW, &t) < 0 ? errno : 0;
}

int tty_raw(int fd) {
    struct termios t;
    if (tcgetattr(fd, &t) < 0)
        return errno;
    cfmakeraw(&t); /* no echo, no line editing, no XON/XOFF, 8 bits, no parity */
    t.c_iflag &= ~(tcflag_t)(IXOFF | IXANY | INPCK | IUCLC | IMAXBEL);
    t.c_iflag |= IGNBRK | IGNPAR; /* a break or a framing error is no byte of a line */
    t.c_cflag &= ~(tcflag_t)(CSTOPB | CRTSCTS | HUPCL);
    t.c_cflag |= CREAD | CLOCAL;
    t.c_cc[VMIN] = 1; /* so that 0 bytes can only mean that the other end is gone */
    t.c_cc[VTIME] = 0;
    return tcsetattr(fd, TCSANOW, &t) < 0 ? errno : 0;
}

/* The lock is seen by those who ask for it, the exclusive mode by everybody but root.  On a
 * pseudo-terminal that mode would outlive us, even a killed us, until its master closes: there the
 * lock alone must do. */
int tty_take(int fd, bool pseudo) {
    int exclusive = 0;
    if (!pseudo && ioctl(fd, TIOCGEXCL, &exclusive) == 0 && exclusive)
        return EBUSY;
    return tty_hold(fd, pseudo);
}

int tty_hold(int fd, bool pseudo) {
    if (flock(fd, LOCK_EX | LOCK_NB) < 0)
        return errno == EWOULDBLOCK ? EBUSY : errno;
    if (!pseudo)
        ioctl(fd, TIOCEXCL); /* not every driver has it; the lock stands */
    return 0;
}

void tty_let_go(int fd, bool pseudo) {
    if (!pseudo)
        ioctl(fd, TIOCNXCL);
    flock(fd, LOCK_UN);
}
