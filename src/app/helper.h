/* The helper program that draws PNG and PDF: found, started, fed, and its answer taken. */
#ifndef APP_HELPER_H
#define APP_HELPER_H

#include "app/whole_file.h"
#include "print/picture_out.h"

/* form: "png" or "pdf".  An enum status; what is wrong was said, with the package that is missing
 * where the helper isn't there. */
int helper_draw(const struct picture *p, const char *form, enum picture_theme theme,
                struct bytes *out);

#endif
