/* Pictures as PNG and PDF, drawn from our SVG by rsvg-convert where it is installed. */
#ifndef APP_RSVG_H
#define APP_RSVG_H

#include "app/whole_file.h"
#include "picture/picture_out.h"

/* form: "png" or "pdf".  An enum status; what is wrong was said, with the package that is missing
 * where rsvg-convert isn't there. */
int rsvg_draw(const struct picture *p, const char *form, enum picture_theme theme,
              struct bytes *out);

#endif
