/* The page's writer: whatever a text holds, the page stays text and markup of ours.
 *
 * What is right: the five escapes of XML 1.0 (4.6) and HTML; UTF-8's shortest forms (Unicode
 * standard, table 3-7, from memory), of which every byte string is tried against a decoder written
 * here from that table. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "page/html.h"

#define MARK "\xEF\xBF\xBD"

struct page {
    char text[32768];
    size_t len;
};

static void gather(void *where, const char *bytes, size_t len) {
    struct page *p = where;
    assert_true(len < sizeof p->text - p->len);
    memcpy(p->text + p->len, bytes, len);
    p->len += len;
    p->text[p->len] = '\0';
}

static const char *said(struct page *p, const char *text) {
    struct html h = {.put = gather, .where = p};
    p->len = 0;
    html_say(&h, "%s", text);
    html_markup(&h, "");
    return p->text;
}

static void hostile_texts_are_text(void **state) {
    static const struct {
        const char *text, *page;
    } cases[] = {
        {"plain", "plain"},
        {"<script>alert(1)</script>", "&lt;script&gt;alert(1)&lt;/script&gt;"},
        {"\" onload='x'", "&quot; onload=&#39;x&#39;"},
        {"a & b &amp; c", "a &amp; b &amp;amp; c"},
        {"]]>", "]]&gt;"},
        {"a\001b\033[31mc\177\ttab", "a" MARK "b" MARK "[31mc" MARK MARK "tab"},
        {"two\nlines\r", "two" MARK "lines" MARK},
        {"M\xC3\xB6we \xE2\x9C\x93 \xF0\x9F\x9A\xA4", "M\xC3\xB6we \xE2\x9C\x93 \xF0\x9F\x9A\xA4"},
        {"\xC0\xBCscript", MARK MARK "script"}, /* '<' in two bytes */
        {"\xE0\x80\xBC", MARK},                 /* in three */
        {"\xED\xA0\x80", MARK},                 /* a surrogate */
        {"\xF4\x90\x80\x80", MARK},             /* beyond the last character */
        {"\xEF\xBF\xBF", MARK},                 /* no character of XML */
        {"\xC2\x85next", MARK "next"},          /* a control of Latin 1 */
        {"abc\xE2\x80\xAE"
         "fed",
         "abc" MARK "fed"},       /* right to left from here */
        {"cut \xE2\x9C", "cut "}, /* the rest never comes */
        {"cut \xE2\x9C<b>", "cut " MARK "&lt;b&gt;"},
    };
    struct page p;
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        assert_string_equal(said(&p, cases[i].text), cases[i].page);
}

static void a_torn_text_swallows_no_markup(void **state) {
    struct page p = {.len = 0};
    struct html h = {.put = gather, .where = &p};
    (void)state;
    html_element(&h, "p", "%s", "torn \xF0\x9F");
    assert_string_equal(p.text, "<p>torn " MARK "</p>\n");
}

static void long_texts_end_at_a_whole_character(void **state) {
    char text[HTML_SAY_MAX + 50];
    struct page p;
    (void)state;
    for (size_t shift = 0; shift < 4; shift++) {
        memset(text, 'a', sizeof text);
        for (size_t i = shift; i + 3 < sizeof text; i += 3)
            memcpy(text + i, "\xE2\x9C\x93", 3);
        text[sizeof text - 1] = '\0';
        said(&p, text);
        assert_null(strstr(p.text, MARK));
        assert_true(p.len <= HTML_SAY_MAX && p.len > HTML_SAY_MAX - 5);
    }
}

/* Table 3-7: how long a well-formed character begins here; 0: none does. */
static size_t well_formed(const unsigned char *at, size_t len) {
    static const struct {
        unsigned char first_low, first_high, second_low, second_high;
        size_t len;
    } rows[] = {
        {0x00, 0x7F, 0, 0, 1},       {0xC2, 0xDF, 0x80, 0xBF, 2}, {0xE0, 0xE0, 0xA0, 0xBF, 3},
        {0xE1, 0xEC, 0x80, 0xBF, 3}, {0xED, 0xED, 0x80, 0x9F, 3}, {0xEE, 0xEF, 0x80, 0xBF, 3},
        {0xF0, 0xF0, 0x90, 0xBF, 4}, {0xF1, 0xF3, 0x80, 0xBF, 4}, {0xF4, 0xF4, 0x80, 0x8F, 4},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (at[0] < rows[i].first_low || at[0] > rows[i].first_high || rows[i].len > len)
            continue;
        if (rows[i].len > 1 && (at[1] < rows[i].second_low || at[1] > rows[i].second_high))
            return 0;
        for (size_t k = 2; k < rows[i].len; k++)
            if (at[k] < 0x80 || at[k] > 0xBF)
                return 0;
        return rows[i].len;
    }
    return 0;
}

static void hold_well_formed(const struct page *p) {
    for (size_t i = 0; i < p->len;) {
        unsigned char c = (unsigned char)p->text[i];
        size_t step = well_formed((const unsigned char *)p->text + i, p->len - i);
        assert_true(step > 0);
        assert_true(c >= 0x20 && c != 0x7F);
        assert_true(c != '<' && c != '>' && c != '"' && c != '\'');
        i += step;
    }
}

/* Every string of three bytes of the kinds that matter, between plain ones. */
static void any_bytes_come_out_well_formed(void **state) {
    static const unsigned char kinds[] = {'a',  '<',  '&',  0x01, 0x7F, 0x80, 0x85, 0x8F,
                                          0x90, 0x9F, 0xA0, 0xBF, 0xC0, 0xC2, 0xDF, 0xE0,
                                          0xE2, 0xED, 0xEF, 0xF0, 0xF1, 0xF4, 0xF5, 0xFF};
    enum { KINDS = sizeof kinds };
    struct page p;
    (void)state;
    for (size_t i = 0; i < (size_t)KINDS * KINDS * KINDS * KINDS; i++) {
        char text[7] = {'x',
                        (char)kinds[i % KINDS],
                        (char)kinds[i / KINDS % KINDS],
                        (char)kinds[i / KINDS / KINDS % KINDS],
                        (char)kinds[i / KINDS / KINDS / KINDS],
                        'z',
                        '\0'};
        said(&p, text);
        hold_well_formed(&p);
        assert_true(p.text[0] == 'x' && p.text[p.len - 1] == 'z');
    }
}

/* What others drew goes through unescaped, but no broken byte does. */
static void passed_markup_is_checked_too(void **state) {
    struct page p = {.len = 0};
    struct html h = {.put = gather, .where = &p};
    (void)state;
    html_pass(&h, "<text>M\xC3", 8);
    html_pass(&h, "\xB6we \xC3</text>", 12);
    assert_string_equal(p.text, "<text>M\xC3\xB6we " MARK "</text>");
}

static void tables_have_heads(void **state) {
    static const char *const heads[] = {"stop", "lost <95 %>", NULL};
    struct page p = {.len = 0};
    struct html h = {.put = gather, .where = &p};
    struct html_table t;
    (void)state;
    html_table_begin(&t, &h, "Stops", heads);
    html_row_begin(&t);
    html_cell(&t, "%d m", 5);
    html_cell(&t, "<%d %%", 3);
    html_row_end(&t);
    html_table_end(&t);
    assert_non_null(strstr(p.text, "<caption>Stops</caption>"));
    assert_non_null(strstr(p.text, "<th scope=\"col\" role=\"columnheader\">stop</th>"));
    assert_non_null(strstr(p.text, "<th scope=\"row\" role=\"rowheader\">5 m</th>"));
    assert_non_null(
        strstr(p.text, "<td role=\"cell\" data-head=\"lost &lt;95 %&gt;\">&lt;3 %</td>"));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hostile_texts_are_text),
        cmocka_unit_test(a_torn_text_swallows_no_markup),
        cmocka_unit_test(long_texts_end_at_a_whole_character),
        cmocka_unit_test(any_bytes_come_out_well_formed),
        cmocka_unit_test(passed_markup_is_checked_too),
        cmocka_unit_test(tables_have_heads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
