/* Writes a file through to the disk beside the rest of the program: a slow memory card takes up to
 * seconds for it, and a console that waits so long reads no line meanwhile. */
#ifndef CONSOLE_DISK_SYNC_H
#define CONSOLE_DISK_SYNC_H

struct disk_sync; /* ours: disk_sync_begin .. disk_sync_end */

/* For an open descriptor, which outlives it.  NULL where the system gives no memory or thread. */
struct disk_sync *disk_sync_begin(int fd);

/* Asks for what was written so far; returns at once. */
void disk_sync_ask(struct disk_sync *s);

/* errno of the first sync that failed, 0: none did so far. */
int disk_sync_trouble(struct disk_sync *s);

/* Waits for what was asked for, and frees; gives what disk_sync_trouble would.  NULL is fine: 0. */
int disk_sync_end(struct disk_sync *s);

#endif
