#include "session/header.h"

#include <string.h>

static const char byte_order_mark[] = "\xEF\xBB\xBF";

struct slice header_line(const char *bytes, size_t len, bool *marked, const char **end) {
    struct slice line = {bytes, len};
    *marked = slice_starts(line, byte_order_mark);
    if (*marked)
        line = slice_sub(line, strlen(byte_order_mark), len);
    size_t cr = slice_find(line, '\r'), lf = slice_find(line, '\n');
    size_t at = cr < lf ? cr : lf;
    *end = at < line.len ? line.at + at : NULL;
    return slice_sub(line, 0, at);
}

/* -- names ----------------------------------------------------------------------------------- */

static unsigned char lower(char c) {
    return (unsigned char)(c >= 'A' && c <= 'Z' ? c + ('a' - 'A') : c);
}

/* The column of that name, in letters of either case, spaces around it; COLUMN_COUNT for none. */
static size_t column_of(struct slice name) {
    while (name.len > 0 && name.at[0] == ' ')
        name = slice_sub(name, 1, name.len);
    while (name.len > 0 && name.at[name.len - 1] == ' ')
        name.len--;
    for (size_t column = 0; column < COLUMN_COUNT; column++) {
        const char *wanted = session_columns[column].name;
        size_t at = 0;
        while (at < name.len && wanted[at] != '\0' &&
               lower(name.at[at]) == (unsigned char)wanted[at])
            at++;
        if (at == name.len && wanted[at] == '\0')
            return column;
    }
    return COLUMN_COUNT;
}

/* The first byte that can stand between two fields and in no name. */
static char separator_of(struct slice line) {
    for (size_t i = 0; i < line.len; i++) {
        if (line.at[i] != '\0' && strchr(",;\t|", line.at[i]))
            return line.at[i];
    }
    return ',';
}

/* -- what hangs together ---------------------------------------------------------------------- */

static size_t field_of(const struct session_layout *layout, size_t column) {
    size_t field = 0;
    while (field < layout->count && layout->column[field] != column)
        field++;
    return field;
}

bool header_has(const struct session_layout *layout, size_t column) {
    return field_of(layout, column) < layout->count;
}

bool session_layout_has_note(const struct session_layout *layout) {
    return header_has(layout, COLUMN_NOTE);
}

/* Half a pair tells nothing, nor do channels behind one that is missing. */
static void drop_parts(struct session_layout *layout) {
    for (size_t column = 0; column < COLUMN_COUNT; column++) {
        const struct column *c = &session_columns[column];
        size_t first = column - c->part, needed = c->of == 2 ? first + 1 - c->part : column - 1;
        if (c->of == 1 || (c->of > 2 && c->part == 0) || header_has(layout, needed))
            continue;
        size_t field = field_of(layout, column);
        if (field < layout->count)
            layout->column[field] = COLUMN_COUNT;
    }
}

static bool is_own(const struct session_layout *layout) {
    for (size_t i = 0; i < COLUMN_COUNT; i++) {
        if (i >= layout->count || layout->column[i] != i)
            return false;
    }
    return layout->count == COLUMN_COUNT && layout->form.separator == ',';
}

/* True when a column stands twice. */
static bool find_twice(const struct session_layout *layout, const char **column) {
    for (size_t i = 0; i < layout->count; i++) {
        for (size_t k = 0; k < i; k++) {
            if (layout->column[i] == layout->column[k] && layout->column[i] < COLUMN_COUNT) {
                *column = session_columns[layout->column[i]].name;
                return true;
            }
        }
    }
    return false;
}

/* -- the header ------------------------------------------------------------------------------- */

/* Every other byte of the first ones is NUL, as in UTF-16 of either order. */
static bool is_utf16(struct slice line) {
    bool marked = slice_starts(line, "\xFF\xFE") || slice_starts(line, "\xFE\xFF");
    for (size_t i = 2; marked && i < 18; i += 2)
        marked = i + 1 < line.len && (line.at[i] == '\0') != (line.at[i + 1] == '\0');
    return marked;
}

bool header_read(struct session_layout *layout, struct slice line, struct text *scratch,
                 enum session_fault *fault, const char **column) {
    struct slice names[SESSION_FIELDS_MAX];
    memset(layout, 0, sizeof *layout);
    *column = NULL;
    *fault = SESSION_UTF16;
    if (is_utf16(line))
        return false;
    layout->form = (struct csv_form){separator_of(line), '\n'};
    size_t count = csv_split(&layout->form, line, names, SESSION_FIELDS_MAX, scratch);
    layout->count = (uint16_t)(count < SESSION_FIELDS_MAX ? count : SESSION_FIELDS_MAX);
    for (size_t i = 0; i < layout->count; i++)
        layout->column[i] = (uint8_t)column_of(names[i]);
    *fault = count == 0 ? SESSION_QUOTE : SESSION_MANY;
    if (count != layout->count || count == 0)
        return false;
    layout->saved = layout->form.separator != ',' || slice_find(line, '"') < line.len;
    *fault = SESSION_TWICE;
    if (find_twice(layout, column))
        return false;
    *fault = SESSION_HEADER;
    if (!header_has(layout, COLUMN_KIND))
        return false;
    layout->own = is_own(layout);
    drop_parts(layout);
    return true;
}

bool session_recognises(const char *bytes, size_t len) {
    char buffer[SESSION_ROW_MAX + 1];
    struct session_layout layout;
    struct text scratch;
    enum session_fault fault;
    const char *column, *end;
    bool marked;
    struct slice line =
        header_line(bytes, len < SESSION_ROW_MAX ? len : SESSION_ROW_MAX, &marked, &end);
    text_init(&scratch, buffer, sizeof buffer);
    if (!header_read(&layout, line, &scratch, &fault, &column) && fault == SESSION_UTF16)
        return true;
    size_t known = 0;
    for (size_t i = 0; i < layout.count; i++)
        known += layout.column[i] < COLUMN_COUNT;
    return known > 1 && (header_has(&layout, COLUMN_KIND) || header_has(&layout, COLUMN_HOST));
}

/* -- a row ------------------------------------------------------------------------------------ */

/* 12,5 as 12.5, in scratch. */
static struct slice with_point(struct slice number, struct text *scratch) {
    size_t comma = slice_find(number, ','), start = scratch->len;
    if (comma == number.len)
        return number;
    text_slice(scratch, slice_sub(number, 0, comma));
    text_char(scratch, '.');
    text_slice(scratch, slice_sub(number, comma + 1, number.len));
    return (struct slice){scratch->at + start, scratch->len - start};
}

void header_gather(const struct session_layout *layout, const struct slice *fields, size_t count,
                   struct slice out[static COLUMN_COUNT], struct text *scratch) {
    for (size_t column = 0; column < COLUMN_COUNT; column++)
        out[column] = slice_of("");
    for (size_t i = 0; i < count; i++) {
        if (layout->column[i] < COLUMN_COUNT)
            out[layout->column[i]] = fields[i];
    }
    if (layout->form.separator != ',')
        out[COLUMN_DISTANCE] = with_point(out[COLUMN_DISTANCE], scratch);
}
