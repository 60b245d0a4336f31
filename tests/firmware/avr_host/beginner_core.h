/* The few calls of the usual beginner's environment that docs/wire.md uses, for the chip itself. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <stdint.h>
#include <stdlib.h>

enum { A0, A1, A2, A3, A4, A5 };

static volatile uint16_t overflows;
ISR(TIMER1_OVF_vect) { overflows++; }

static unsigned long micros() { /* 2 MHz, halved */
    uint8_t state = SREG;
    cli();
    uint16_t count = TCNT1, high = overflows;
    if ((TIFR1 & _BV(TOV1)) && count < 32768) high++;
    SREG = state;
    return ((unsigned long)high << 15) + (count >> 1);
}

static int analogRead(uint8_t input) {
    ADMUX = _BV(REFS0) | input;
    ADCSRA |= _BV(ADSC);
    while (ADCSRA & _BV(ADSC)) {
    }
    return ADC;
}

struct Line {
    void begin(unsigned long baud) {
        UCSR0A = _BV(U2X0);
        UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
        UBRR0 = (F_CPU / 4 / baud - 1) / 2;
        UCSR0B = _BV(TXEN0);
    }
    void print(char c) {
        while (!(UCSR0A & _BV(UDRE0))) {
        }
        UDR0 = c;
    }
    void print(const char *text) {
        while (*text) print(*text++);
    }
    void print(unsigned long value) {
        char text[12];
        print((const char *)ultoa(value, text, 10));
    }
    void print(int value) { print((unsigned long)value); }
    template <class T> void println(T value) {
        print(value);
        print("\r\n");
    }
};
static Line Serial;
void setup();
void loop();

int main() {
    TCCR1B = _BV(CS11);
    TIMSK1 = _BV(TOIE1);
    ADCSRA = _BV(ADEN) | _BV(ADPS2) | _BV(ADPS1) | _BV(ADPS0);
    sei();
    setup();
    for (;;) loop();
}
