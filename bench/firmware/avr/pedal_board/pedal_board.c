/* Pedal bench board: reads 1 to 6 analogue inputs at exact intervals and sends every row.

   Rules:
   - Timer 1 gives the ticks. A tick starts the first conversion in its interrupt; the sequence
     number counts ticks, also those that could not be served, so that the host sees every loss.
   - Text lines at 115200 baud after reset; `frames` and `baud 500000` by command. The formats
     and the commands are those of docs/wire.md.
   - It only reads: no pin is ever an output except the serial transmitter.

   Inputs A0 to A5 in the order of the columns. The reference is the board's own supply (AVCC), so
   a pedal fed from the same 5 V is read as a ratio. Inputs follow each other 110 us apart, times
   the conversions of a reading; the hello says `channel_us=`, and the analysis reckons with it. */

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <avr/wdt.h>
#include <stdint.h>
#include <string.h>
#include <util/crc16.h>

#ifndef F_CPU
#define F_CPU 16000000UL
#endif
#if F_CPU != 16000000UL
#error "made for a clock of 16 MHz: ticks, conversions and line speeds would all be wrong"
#endif
#if !defined(__AVR_ATmega328P__) && !defined(__AVR_ATmega328__) && !defined(__AVR_ATmega328PB__)
#error "made for the ATmega328P: inputs, timers and internal reference of others differ"
#endif
#ifndef REFERENCE_MV
#define REFERENCE_MV 5000 /* nominal supply of the board */
#endif
#ifndef BANDGAP_MV
#define BANDGAP_MV 1100 /* internal reference; +-10 % from part to part unless measured */
#endif

#define MOST_CHANNELS 6
#define ROWS 16u           /* rows waiting to be sent; a power of two */
#define TX_SIZE 256u       /* indices are one byte and wrap by themselves */
#define RX_SIZE 128u
#define CONVERSION_US 110u /* 13 cycles at 125 kHz, and the interrupt */
#define BANDGAP_READS 8    /* the internal reference charges the sampling capacitor slowly */
#define BANDGAP_INPUT 14
#define HELLO_BYTES 300u   /* per second, kept free on the line */

typedef struct {
    uint32_t sequence;
    uint32_t time_us;
    uint16_t value[MOST_CHANNELS];
} row_t;

static row_t rows[ROWS];
static volatile uint8_t row_head, row_tail;

static uint8_t tx[TX_SIZE], rx[RX_SIZE];
static volatile uint8_t tx_head, tx_tail, rx_head, rx_tail;

static volatile uint8_t channels = 2, passes = 1, shift = 0, running = 1;
static volatile uint8_t busy, channel, pass, supply_due, spare_time;
static volatile uint16_t sum, bandgap;
static volatile uint32_t sequence, clock_us, overruns;
static volatile uint32_t period_us = 5000;
static volatile uint8_t subticks = 1, subtick;

static uint8_t as_frames;
static uint32_t baud = 115200, wanted_rate = 200;
static uint32_t hello_at;
static uint8_t reset_cause __attribute__((section(".noinit")));
static uint16_t barked __attribute__((section(".noinit"))); /* RAM outlives a reset */
#define BARKED 0xB1A5
#define TOLD_NOTHING 0x80 /* no bit of MCUSR */

void keep_reset_cause(void) __attribute__((naked, used, section(".init3")));
void keep_reset_cause(void) {
    reset_cause = MCUSR;
    MCUSR = 0;
    /* Many boot loaders clear MCUSR before they start us: then only our own mark tells. */
    if (!reset_cause) reset_cause = barked == BARKED ? _BV(WDRF) : TOLD_NOTHING;
    barked = 0;
    wdt_disable(); /* after a watchdog reset it still runs, with the shortest time */
}

/* ---- watchdog ------------------------------------------------------------------------- */

/* The first time-out comes here and leaves a mark, the second one resets. A board that hangs with
   interrupts off is reset too, without the mark. */
ISR(WDT_vect) { barked = BARKED; }

static void watch(void) {
    wdt_reset();
    if (WDTCSR & _BV(WDIE)) return;
    barked = 0; /* it was only late, or has just begun */
    WDTCSR |= _BV(WDIE);
}

/* ---- sampling ------------------------------------------------------------------------- */

static inline void convert(uint8_t input) {
    ADMUX = _BV(REFS0) | input;
    ADCSRA |= _BV(ADSC);
}

ISR(TIMER1_COMPA_vect) {
    if (++subtick < subticks) return;
    subtick = 0;
    clock_us += period_us;
    if (!running) return;
    sequence++;
    if (busy || (uint8_t)(row_head - row_tail) >= ROWS) {
        overruns++;
        return;
    }
    row_t *row = &rows[row_head % ROWS];
    row->sequence = sequence;
    row->time_us = clock_us;
    busy = 1;
    channel = pass = 0;
    sum = 0;
    convert(0);
}

ISR(ADC_vect) {
    uint16_t reading = ADC;
    if (channel >= channels) { /* the internal reference, behind the inputs */
        if (++pass < BANDGAP_READS) {
            ADCSRA |= _BV(ADSC);
            return;
        }
        bandgap = reading;
        supply_due = 0;
        busy = 0;
        return;
    }
    sum += reading;
    if (++pass < passes) {
        ADCSRA |= _BV(ADSC);
        return;
    }
    rows[row_head % ROWS].value[channel] = sum >> shift;
    sum = 0;
    pass = 0;
    if (++channel < channels) {
        convert(channel);
        return;
    }
    row_head++;
    if (supply_due && spare_time)
        convert(BANDGAP_INPUT);
    else
        busy = 0;
}

/* ---- serial line ---------------------------------------------------------------------- */

ISR(USART_UDRE_vect) {
    if (tx_head == tx_tail)
        UCSR0B &= (uint8_t)~_BV(UDRIE0);
    else
        UDR0 = tx[tx_tail++];
}

ISR(USART_RX_vect) {
    uint8_t byte = UDR0;
    if ((uint8_t)(rx_head - rx_tail) < RX_SIZE) rx[rx_head++ % RX_SIZE] = byte;
}

static void put(uint8_t byte) {
    while ((uint8_t)(tx_head - tx_tail) == TX_SIZE - 1) wdt_reset();
    tx[tx_head++] = byte;
    UCSR0B |= _BV(UDRIE0);
}

static uint8_t room(void) { return TX_SIZE - 1 - (uint8_t)(tx_head - tx_tail); }

static uint16_t divider(uint32_t speed) { return (F_CPU / 4 / speed - 1) / 2; }

static void open_line(void) {
    UCSR0A = _BV(U2X0);
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UBRR0 = divider(baud);
    UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);
}

/* ---- saying it ------------------------------------------------------------------------ */

enum { PLAIN, COUNTED, CHECKED };
static uint8_t out_mode;
static uint16_t out_count, crc;

static void out(uint8_t byte) {
    if (out_mode == COUNTED) {
        out_count++;
        return;
    }
    if (out_mode == CHECKED) crc = _crc_xmodem_update(crc, byte);
    put(byte);
}

static void out_text(const char *text) { /* in flash */
    for (uint8_t c; (c = pgm_read_byte(text)); text++) out(c);
}

static const uint32_t powers[] PROGMEM = {1000000000, 100000000, 10000000, 1000000, 100000,
                                          10000,      1000,      100,      10,      1};

/* Subtracting is several times quicker here than 32-bit division. */
static void out_number(uint32_t value, uint8_t least_digits) {
    uint8_t shown = 0;
    for (uint8_t i = value < 10000 ? 6 : 0; i < 10; i++) {
        uint32_t power = pgm_read_dword(&powers[i]);
        uint8_t digit = '0';
        while (value >= power) {
            value -= power;
            digit++;
        }
        shown |= digit != '0';
        if (shown || 10 - i <= least_digits) out(digit);
    }
}

static void out_thousandths(uint32_t value) {
    uint32_t whole = value / 1000;
    out_number(whole, 1);
    out('.');
    out_number(value - whole * 1000, 3);
}

static uint32_t now(const volatile uint32_t *value) {
    uint8_t state = SREG;
    cli();
    uint32_t copy = *value;
    SREG = state;
    return copy;
}

/* What a hello says of changing things; its length is sent first and must not change meanwhile. */
static uint32_t said_overruns;
static uint16_t said_bandgap;

static void out_hello(void) {
    static const char columns[MOST_CHANNELS][7] PROGMEM = {"a",   "b",     "supply",
                                                           "key", "brake", "extra"};
    static const char roles[MOST_CHANNELS][7] PROGMEM = {"track", "track", "supply",
                                                         "key",   "brake", "other"};
    out_text(PSTR("name=\"10-bit board\" full_scale="));
    out_number(1024UL << shift, 1);
    out_text(PSTR(" reference_volts="));
    out_thousandths(REFERENCE_MV);
    out_text(PSTR(" rate_hz="));
    out_thousandths(1000000000UL / now(&period_us));
    out_text(PSTR(" time=us columns="));
    for (uint8_t i = 0; i < channels; i++) {
        if (i) out(',');
        out_text(columns[i]);
    }
    out_text(PSTR(" roles="));
    for (uint8_t i = 0; i < channels; i++) {
        if (i) out(',');
        out_text(roles[i]);
    }
    out_text(PSTR(" channel_us="));
    out_number((uint32_t)passes * CONVERSION_US, 1);
    out_text(PSTR(" overruns="));
    out_number(said_overruns, 1);
    if (said_bandgap) {
        out_text(PSTR(" supply_mv="));
        out_number((BANDGAP_MV * 1024UL + said_bandgap / 2) / said_bandgap, 1);
    }
    out_text(PSTR(" reset="));
    if (reset_cause & _BV(WDRF))
        out_text(PSTR("watchdog"));
    else if (reset_cause & _BV(BORF))
        out_text(PSTR("brown-out"));
    else if (reset_cause & TOLD_NOTHING)
        out_text(PSTR("unknown"));
    else
        out_text(PSTR("start"));
}

static void start_frame(uint8_t kind) {
    out_mode = CHECKED;
    crc = 0xFFFF;
    out(0xA5);
    out(kind);
    out(kind ^ 0xFF);
}

static void end_frame(void) {
    uint16_t check = crc;
    out(check >> 8);
    out(check & 0xFF);
    out_mode = PLAIN;
}

static void say_hello(void) {
    hello_at = now(&clock_us);
    said_overruns = now(&overruns);
    cli();
    said_bandgap = bandgap;
    sei();
    if (!as_frames) {
        out_text(PSTR("# "));
        out_hello();
        out('\n');
        return;
    }
    out_mode = COUNTED;
    out_count = 0;
    out_hello();
    uint16_t length = out_count;
    start_frame(0x48);
    out(length & 0xFF);
    out(length >> 8);
    out(~length & 0xFF);
    out((uint8_t)(~length >> 8));
    out_hello();
    end_frame();
}

static void send_row(const row_t *row) {
    if (as_frames) {
        start_frame(0x20 + channels - 1);
        const uint8_t *bytes = (const uint8_t *)row;
        for (uint8_t i = 0; i < 3; i++) out(bytes[i]);
        for (uint8_t i = 4; i < 8 + 2 * channels; i++) out(bytes[i]);
        end_frame();
        return;
    }
    out_number(row->time_us, 1);
    for (uint8_t i = 0; i < channels; i++) {
        out(',');
        out_number(row->value[i], 1);
    }
    out('\n');
}

static uint8_t row_bytes(void) {
    return as_frames ? 12 + 2 * channels : 11 + 5 * channels;
}

/* Send the oldest waiting row; 0 when there is none. */
static uint8_t send_waiting(void) {
    if (row_head == row_tail) return 0;
    if (room() >= row_bytes()) {
        send_row(&rows[row_tail % ROWS]);
        row_tail++;
    }
    return 1;
}

/* ---- obeying -------------------------------------------------------------------------- */

/* Take the wanted rate, or the fastest that conversions and line allow. */
static void apply(void) {
    uint32_t scan = (uint32_t)channels * passes * CONVERSION_US + 60;
    uint32_t usable = baud - baud / 32 - HELLO_BYTES * 10;
    uint32_t line = (row_bytes() * 10000000UL + usable - 1) / usable;
    uint32_t period = 1000000UL / wanted_rate;
    if (period < scan) period = scan;
    if (period < line) period = line;
    uint8_t parts = 1 + (period - 1) / 32767;
    uint16_t part = period / parts;
    cli();
    subticks = parts;
    subtick = 0;
    period_us = (uint32_t)part * parts;
    spare_time = period_us >= scan + BANDGAP_READS * CONVERSION_US;
    OCR1A = part * (F_CPU / 8000000UL) - 1;
    TCNT1 = 0;
    sei();
}

/* Let a running scan end and send the rows of the old shape before the shape changes. */
static void pause(void) {
    running = 0;
    while (busy) wdt_reset();
    while (send_waiting()) wdt_reset();
}

static void change_baud(uint32_t speed) {
    uint32_t real = F_CPU / 8 / (divider(speed) + 1UL);
    uint32_t error = real > speed ? real - speed : speed - real;
    if (error * 40 > speed) { /* more than 2.5 % off: the host could not read it */
        say_hello();
        return;
    }
    say_hello();
    while (tx_head != tx_tail) wdt_reset();
    UCSR0A |= _BV(TXC0);
    for (uint16_t wait = 0; wait < 60000; wait++) /* two bytes may still be in the shifter */
        if (UCSR0A & _BV(TXC0)) break;
    baud = speed;
    open_line();
}

static void obey(char *line) {
    char *blank = strchr(line, ' ');
    uint32_t number = 0;
    if (blank) {
        *blank = 0;
        for (char *c = blank + 1; *c; c++) {
            if (*c < '0' || *c > '9' || number > 9999999) return;
            number = number * 10 + (*c - '0');
        }
    }
    uint8_t frames = as_frames, inputs = channels, conversions = passes;
    uint32_t rate = wanted_rate;
    if (!strcmp_P(line, PSTR("start")))
        running = 1;
    else if (!strcmp_P(line, PSTR("stop")))
        running = 0;
    else if (!strcmp_P(line, PSTR("text")))
        frames = 0;
    else if (!strcmp_P(line, PSTR("frames")))
        frames = 1;
    else if (!strcmp_P(line, PSTR("rate")) && number >= 1)
        rate = number;
    else if (!strcmp_P(line, PSTR("channels")) && number >= 1 && number <= MOST_CHANNELS)
        inputs = number;
    else if (!strcmp_P(line, PSTR("oversample")) && (number == 1 || number == 4 || number == 16))
        conversions = number;
    else if (!strcmp_P(line, PSTR("baud")) && number >= 9600 && number <= 1000000) {
        uint8_t ran = running;
        pause();
        change_baud(number);
        apply();
        running = ran;
        return;
    }
    /* Being told what it does already must not disturb a recording. */
    if (frames != as_frames || inputs != channels || conversions != passes ||
        rate != wanted_rate) {
        uint8_t ran = running;
        pause();
        as_frames = frames;
        channels = inputs;
        passes = conversions;
        shift = conversions == 16 ? 2 : conversions == 4;
        wanted_rate = rate;
        apply();
        say_hello();
        running = ran;
    } else
        say_hello();
}

static void listen(void) {
    static char line[20];
    static uint8_t length;
    while (rx_head != rx_tail) {
        uint8_t byte = rx[rx_tail % RX_SIZE];
        rx_tail++;
        if (byte == '\n' || byte == '\r') {
            if (length && length < sizeof line) {
                line[length] = 0;
                length = 0;
                obey(line);
            }
            length = 0;
        } else if (length < sizeof line) {
            line[length++] = byte; /* a line that fills it up is no command of ours */
        }
    }
}

/* ---- start ---------------------------------------------------------------------------- */

static void open_converter(void) {
    DIDR0 = 0x3F; /* no digital input buffers on analogue pins */
    ADMUX = _BV(REFS0) | BANDGAP_INPUT;
    ADCSRA = _BV(ADEN) | _BV(ADPS2) | _BV(ADPS1) | _BV(ADPS0);
    for (uint8_t i = 0; i < 50; i++) { /* 5 ms: lets the internal reference settle */
        ADCSRA |= _BV(ADSC);
        while (ADCSRA & _BV(ADSC)) {
        }
    }
    bandgap = ADC;
    ADCSRA |= _BV(ADIF);
    ADCSRA |= _BV(ADIE);
}

int main(void) {
    wdt_enable(WDTO_120MS);
    open_line();
    open_converter();
    TCCR1A = 0;
    TCCR1B = _BV(WGM12) | _BV(CS11); /* clear on compare, 2 MHz */
    TIMSK1 = _BV(OCIE1A);
    apply();
    say_hello();
    for (;;) {
        watch();
        listen();
        send_waiting();
        if (now(&clock_us) - hello_at >= 1000000UL) {
            supply_due = 1;
            say_hello();
        }
    }
}
