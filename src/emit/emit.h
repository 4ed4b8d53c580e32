/* The receiver's side of the telemetry lines: prints one line, byte by byte, through a callback.
 * Freestanding C99 for an 8-bit microcontroller: no malloc, no stdio, no floating point, no 64-bit
 * arithmetic.  Copy emit.h and emit.c into a sketch.
 *
 *     struct emit e;
 *     emit_begin(&e, put_byte, &uart, "rx");
 *     emit_u32(&e, "n", ++lines);
 *     emit_u32(&e, "t", millis());
 *     emit_list(&e, "ch", outputs, 8);
 *     emit_end(&e);
 *
 * The checksum (CRC-16/IBM-3740) is added by emit_end.  An empty text, word or list prints nothing.
 *
 * Measured with avr-gcc 5.4.0, `avr-gcc -mmcu=atmega328p -Os -std=c99 -fstack-usage -Isrc -c
 * src/emit/emit.c` and avr-size: 1394 bytes of code, and 68 of the compiler's own 32-bit division
 * that a sketch often has anyway.  RAM: 48 bytes = 6 (struct emit) + 0 static + 42 of stack at the
 * deepest call (emit_list 12, put_u32 16, put_four 8, put_digit 4, put 2), and what the callback
 * itself takes.  Keys written as string literals are the sketch's own and sit in RAM on an AVR:
 * some 100 bytes for a full line.
 */
#ifndef EMIT_EMIT_H
#define EMIT_EMIT_H

#ifdef __cplusplus
extern "C" {
#endif

#include <stdint.h>

/* Takes one byte; called in order for every byte of the line, its CR LF included. */
typedef void emit_byte(void *where, uint8_t byte);

struct emit {
    emit_byte *put;
    void *where;
    uint16_t crc;
};

#define EMIT_OFF  INT32_MIN /* in a list: an output without pulses, printed as - */
#define EMIT_HOLD INT32_MAX /* in a list: failsafe holds the last value, printed as hold */

/* Begins a line with its word. */
void emit_begin(struct emit *e, emit_byte *put, void *where, const char *word);

/* " key=value" in decimal. */
void emit_u32(struct emit *e, const char *key, uint32_t value);
void emit_i32(struct emit *e, const char *key, int32_t value);

/* " key=word"; bytes outside 0x21..0x7E are printed as _. */
void emit_word(struct emit *e, const char *key, const char *word);

/* " key=a/b": hits/looks or step/steps. */
void emit_pair(struct emit *e, const char *key, uint32_t a, uint32_t b);

/* " key=v1,v2,..." of count values (1 to 16). */
void emit_list(struct emit *e, const char *key, const int32_t *values, uint8_t count);

/* " key=ooxo": outcomes of the newest `count` packets, oldest first.  Bit i of the 64 bits in
 * history (history[0] bit 0) is the i-th newest packet, 1 arrived.  Nothing for count 0; more than
 * 64 counts as 64. */
void emit_pattern(struct emit *e, const char *key, const uint8_t history[8], uint8_t count);

/* " key=HEX" of count bytes, in order. */
void emit_hex(struct emit *e, const char *key, const uint8_t *bytes, uint8_t count);

/* " text" of a say line: printable bytes as they are, others as _. */
void emit_text(struct emit *e, const char *text);

/* Ends the line: " *HHHH" and CR LF. */
void emit_end(struct emit *e);

#ifdef __cplusplus
}
#endif

#endif
