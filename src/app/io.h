/* Calls to the system that neither a signal (EINTR) nor a descriptor that isn't ready (EAGAIN:
 * somebody who shares it made it non-blocking) cuts short. */
#ifndef APP_IO_H
#define APP_IO_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

/* As read(2) else: at most `size` bytes, 0 at the end, -1 with errno. */
ssize_t io_read(int fd, void *buffer, size_t size);

/* All of it; false with errno, when some of it may have been written. */
bool io_write(int fd, const void *bytes, size_t len);

/* Onto the disk; false with errno.  What can't be synced (a pipe, some file systems) is fine. */
bool io_sync(int fd);

/* False with errno where something that was written is lost.  Closed it is whatever happens. */
bool io_close(int fd);

#endif
