/* What is wired to which pin of the ATmega328P (16 MHz crystal), for both ends.  Plain numbers and
 * no AVR header, so that a test on the host reads the same file.
 *
 * Numbers in brackets are those printed on the common small boards.  SPI mode 0 at 2 MHz.
 * The chip's IRQ pin may be wired to PD2 [D2]; these firmwares ask the chip instead and leave PD2
 * an input.
 *
 * Serial: 8N1, 115200 (U2X, UBRR 16: really 117647 baud, +2.1 %, which 8N1 bears).  250000 would be
 * exact at 16 MHz, but many programs and adapters don't offer it; a full report at 20 a second
 * fills about half of 115200.  -DBOARD_UBRR=7 gives 250000.
 */
#ifndef BOARD_PINS_H
#define BOARD_PINS_H

#ifndef BOARD_UBRR
#define BOARD_UBRR 16
#endif

/* Radio, both ends, all on port B.  CSN is the SS pin: as an output it keeps the SPI a master. */
#define RADIO_CE   1 /* PB1 [D9] */
#define RADIO_CSN  2 /* PB2 [D10] */
#define RADIO_MOSI 3 /* PB3 [D11] */
#define RADIO_MISO 4 /* PB4 [D12] */
#define RADIO_SCK  5 /* PB5 [D13] */
#define RADIO_IRQ  2 /* PD2 [D2], optional, not used */

/* Receiver: servo outputs of channels 1 to 8.  Ports C and D belong to the servo pulses alone. */
#define SERVO_CHANNELS 8
#define SERVO_PORTS    'D', 'D', 'D', 'D', 'D', 'C', 'C', 'C'
#define SERVO_BITS     3, 4, 5, 6, 7, 0, 1, 2 /* [D3 D4 D5 D6 D7 A0 A1 A2] */

/* Receiver: closed to ground at boot makes a sweep of the band first. */
#define RX_SWEEP_JUMPER 3 /* PC3 [A3], pulled up */

/* Transmitter: ADC inputs of channels 1 to 6: four sticks, two knobs. */
#define TX_ANALOGUE 6
#define TX_ADC      0, 1, 2, 3, 4, 5 /* PC0 to PC5 [A0 to A5] */

/* Transmitter: switches to ground, pulled up, all on port D. */
#define TX_SWITCH7_LOW  3 /* PD3 [D3]: closed, channel 7 is 1000; neither closed, 1500 */
#define TX_SWITCH7_HIGH 4 /* PD4 [D4]: closed, channel 7 is 2000 */
#define TX_SWITCH8      5 /* PD5 [D5]: open, channel 8 is 1000; closed, 2000 */
#define TX_REDUCED      6 /* PD6 [D6]: closed, reduced transmit power; open, full */

#endif
