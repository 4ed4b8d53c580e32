/* Standard output that is written whole or found out.  stdio by itself gives up at a signal, at a
 * pipe that somebody made non-blocking, and forgets why a write failed before the last one. */
#ifndef APP_STANDARD_OUT_H
#define APP_STANDARD_OUT_H

/* Where standard input, output or error is closed, puts something there that fails to read and to
 * write as a closed one does: else the next file that is opened would get its number, and what is
 * said would be written into it.  Before anything is opened. */
void standard_hold(void);

/* Puts our own writing under stdout.  Not for a command that draws: ncurses wants the plain one. */
void standard_out_begin(void);

/* Writes what is left and closes it.  Returns status, or STATUS_TROUBLE, having said why, where
 * something was not written; a reader that has had enough, such as head, is no trouble. */
int standard_out_end(int status);

#endif
