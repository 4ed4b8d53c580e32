/* An answer onto standard output, and the words for having no memory for one. */
#ifndef APP_PRINT_OUT_H
#define APP_PRINT_OUT_H

#include <stddef.h>

/* Onto standard output; a say_put. `where` isn't used. */
void print_out(void *where, const char *bytes, size_t len);

/* Prints a JSON text and its line end, and frees it; NULL is no memory.  An enum status. */
int print_out_json(char *json);

/* Says that there is no memory left.  An enum status: trouble. */
int print_out_no_memory(void);

#endif
