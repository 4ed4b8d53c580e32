#include <jansson.h>
#include <stdio.h>
#include <string.h>

#include "base/number.h"
#include "json/parts.h"

/* Numbers as such; "dyn" and addresses as text. */
static json_t *fact_value(const struct ends_row *row, const char *text) {
    int32_t whole;
    double number;
    if (strcmp(text, "?") == 0)
        return json_null();
    if (strcmp(row->key, "addr") == 0 || number_decimal(slice_of(text), &number) != NUMBER_OK)
        return json_string(text);
    if (number_i32(slice_of(text), &whole) == NUMBER_OK)
        return json_integer(whole);
    return json_real(number);
}

static void lacks(json_t *because, const char *end, const char *key, const char *why) {
    char path[80];
    snprintf(path, sizeof path, "ends.%s%s%s", end, key[0] != '\0' ? "." : "", key);
    json_object_set_new(because, path, json_string(why));
}

static json_t *end_value(const struct ends *e, const struct end_facts *end, const char *name,
                         json_t *because) {
    if (!end->known) {
        lacks(because, name, "", "id");
        return json_null();
    }
    json_t *out = json_object();
    json_t *fw = end->fw[0] != '\0' ? json_string(end->fw) : NULL;
    json_object_set_new(out, "fw", fw != NULL ? fw : json_null());
    if (fw == NULL)
        lacks(because, name, "fw", "fw");
    for (uint32_t i = 0; i < ENDS_ROWS; i++) {
        struct ends_row row;
        ends_row(e, i, &row);
        json_t *value = fact_value(&row, end == &e->receiver ? row.receiver : row.transmitter);
        if (json_is_null(value))
            lacks(because, name, row.key, row.key);
        json_object_set_new(out, row.key, value);
    }
    return out;
}

json_t *ends_json(const struct ends *e, json_t *because) {
    json_t *out = json_object(), *differ = json_array();
    json_object_set_new(out, "receiver", end_value(e, &e->receiver, "receiver", because));
    json_object_set_new(out, "transmitter", end_value(e, &e->transmitter, "transmitter", because));
    for (uint32_t i = 0; i < ENDS_ROWS; i++) {
        struct ends_row row;
        ends_row(e, i, &row);
        if (row.mark == ENDS_DIFFERS)
            json_array_append_new(differ, json_string(row.key));
    }
    json_object_set_new(out, "differ", differ);
    return out;
}
