/* Runs a built image of the bench board with a serial line and voltages of our choice.

   pedal_sim IMAGE.elf [--speed X] [--seed N] [--log]

   Makes a pty, prints "port /dev/pts/N" and obeys lines on stdin, all in simulated time:
     play FILE      voltages from a CSV of seconds,mV,mV,... (interpolated; from now on, once)
     set CH MV      hold input CH (0 to 7) at MV
     noise CH MV    add Gaussian noise of that rms to input CH
     corrupt N      damage one byte in N that the board sends (0: none)
     unplug         close the pty; the board goes on running
     plug           make a new pty and reset the board, as hardware does when it is opened
     hang           let the board spin on the spot until its watchdog resets it
     speed X        run at X times the wall's time from now on
     loader         from now on clear MCUSR at every reset, as many boot loaders do
     status         print "status seconds=... sent=... damaged=... baud=..."
     quit
   The pty's speed must be that of the board's UART within 4 %, else bytes are garbled both ways.
   When the reader is slow the simulation waits: nothing is lost between board and reader. */

#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <poll.h>
#include <pty.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include <simavr/avr_adc.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_time.h>

#define INPUTS 8
#define CLOCK 16000000UL

static avr_t *avr;
static avr_irq_t *adc_irq, *uart_irq;
static int master = -1, slave = -1, xoff, show_log;
static unsigned long sent, damaged, corrupt_every;
static double speed = 1, begun, simulated, noise[INPUTS], held[INPUTS];
static uint64_t random_state = 88172645463325252ULL;
static double *table; /* rows of time, mV per input */
static int table_rows, table_columns, table_at;
static avr_cycle_count_t table_start;

static uint64_t random_bits(void) { /* xorshift64 (Marsaglia 2003) */
    random_state ^= random_state << 13;
    random_state ^= random_state >> 7;
    return random_state ^= random_state << 17;
}

static double uniform(void) { return ((random_bits() >> 11) + 0.5) / 9007199254740992.0; }

static double gaussian(void) { /* Box and Muller 1958 */
    return sqrt(-2 * log(uniform())) * cos(2 * M_PI * uniform());
}

static double millivolts(int input) {
    double value = held[input];
    if (table && input + 1 < table_columns) {
        double t = (double)(avr->cycle - table_start) / CLOCK;
        while (table_at + 2 < table_rows && table[(table_at + 1) * table_columns] <= t) table_at++;
        double *a = table + table_at * table_columns, *b = a + table_columns;
        double part = table_rows < 2 ? 0 : (t - a[0]) / (b[0] - a[0]);
        part = part < 0 ? 0 : part > 1 ? 1 : part;
        value = a[input + 1] + (table_rows < 2 ? 0 : part * (b[input + 1] - a[input + 1]));
    }
    if (noise[input] > 0) value += noise[input] * gaussian();
    /* simavr scales by 1023 where silicon uses 1024, and rounds whole millivolts down, where the
       data sheet puts the first transition at half a step. */
    value = (value + 0.5 * 5000 / 1024) * 1024 / 1023 + uniform() - 0.5;
    return value < 0 ? 0 : value;
}

static void on_conversion(avr_irq_t *irq, uint32_t value, void *param) {
    (void)irq, (void)param;
    union { avr_adc_mux_t mux; uint32_t bits; } which = {.bits = value};
    if (which.mux.kind == ADC_MUX_SINGLE && which.mux.src < INPUTS)
        avr_raise_irq(adc_irq + which.mux.src, (uint32_t)(millivolts(which.mux.src) + 0.5));
}

static unsigned long board_baud(void) {
    unsigned divider = avr->data[0xC4] | (avr->data[0xC5] & 0x0F) << 8;
    return CLOCK / ((avr->data[0xC0] & 2 ? 8 : 16) * (divider + 1UL));
}

static unsigned long port_baud(void) {
    static const struct { speed_t code; unsigned long baud; } codes[] = {
        {B9600, 9600}, {B19200, 19200}, {B38400, 38400}, {B57600, 57600}, {B115200, 115200},
        {B230400, 230400}, {B500000, 500000}, {B1000000, 1000000}};
    struct termios settings;
    if (tcgetattr(master, &settings)) return 0;
    for (unsigned i = 0; i < sizeof codes / sizeof *codes; i++)
        if (cfgetospeed(&settings) == codes[i].code) return codes[i].baud;
    return 0;
}

static int same_speed(void) {
    double port = port_baud(), board = board_baud();
    return fabs(port - board) < 0.04 * board;
}

static void on_byte(avr_irq_t *irq, uint32_t value, void *param) {
    (void)irq, (void)param;
    uint8_t byte = value;
    sent++;
    if (master < 0) return;
    if (!same_speed()) byte = 0x80 | random_bits();
    if (corrupt_every && random_bits() % corrupt_every == 0) {
        byte ^= 1 + random_bits() % 255;
        damaged++;
    }
    while (write(master, &byte, 1) != 1) {
        if (errno != EAGAIN) return;
        usleep(500);
    }
}

static void on_xon(avr_irq_t *irq, uint32_t value, void *param) { (void)irq, (void)value, (void)param, xoff = 0; }
static void on_xoff(avr_irq_t *irq, uint32_t value, void *param) { (void)irq, (void)value, (void)param, xoff = 1; }

static void plug(void) {
    char name[64];
    if (openpty(&master, &slave, name, NULL, NULL)) exit(3);
    struct termios settings;
    tcgetattr(slave, &settings);
    cfmakeraw(&settings);
    tcsetattr(slave, TCSANOW, &settings);
    fcntl(master, F_SETFL, O_NONBLOCK);
    printf("port %s\n", name);
}

static void unplug(void) {
    if (master >= 0) close(master), close(slave);
    master = slave = -1;
    puts("unplugged");
}

static double wall(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return t.tv_sec + t.tv_nsec * 1e-9;
}

static void play(const char *path) {
    FILE *file = fopen(path, "r");
    if (!file) { puts("error cannot open the file"); return; }
    char line[1024];
    int size = 0;
    free(table);
    table = NULL, table_rows = table_columns = table_at = 0;
    while (fgets(line, sizeof line, file)) {
        double row[INPUTS + 1];
        int columns = 0;
        for (char *word = strtok(line, ",\n"); word && columns <= INPUTS; word = strtok(NULL, ",\n"))
            row[columns++] = atof(word);
        if (!table_columns) table_columns = columns;
        if (columns != table_columns) continue;
        if (table_rows == size) table = realloc(table, (size = size * 2 + 1024) * columns * sizeof *table);
        memcpy(table + table_rows++ * columns, row, columns * sizeof *row);
    }
    fclose(file);
    table_start = avr->cycle;
    printf("playing %d rows\n", table_rows);
}

/* The board is stuck: its next instruction jumps to itself until a reset. */
static avr_flashaddr_t stuck_at;
static uint16_t stuck_word;
static int stuck, loader;

static void hang(void) {
    /* Never inside an interrupt: simavr would wait for ever for the watchdog's own. */
    while (!avr->sreg[S_I]) avr_run(avr);
    stuck_at = avr->pc;
    memcpy(&stuck_word, avr->flash + stuck_at, 2);
    uint16_t jump = 0xCFFF; /* rjmp .-2 */
    memcpy(avr->flash + stuck_at, &jump, 2);
    stuck = 1;
}

/* Called before each instruction; address 0 is only reached by a reset. */
static void after_reset(void) {
    if (stuck) memcpy(avr->flash + stuck_at, &stuck_word, 2);
    stuck = 0;
    if (loader) avr->data[0x54] = 0; /* MCUSR */
}

static int obey(char *line) {
    int input;
    double value;
    line[strcspn(line, "\n")] = 0;
    if (!strncmp(line, "play ", 5)) play(line + 5);
    else if (sscanf(line, "set %d %lf", &input, &value) == 2 && input >= 0 && input < INPUTS) held[input] = value;
    else if (sscanf(line, "noise %d %lf", &input, &value) == 2 && input >= 0 && input < INPUTS) noise[input] = value;
    else if (sscanf(line, "speed %lf", &value) == 1 && value > 0) {
        speed = value;
        begun = wall() - simulated / speed;
    } else if (sscanf(line, "corrupt %lu", &corrupt_every) == 1) {}
    else if (!strcmp(line, "unplug")) unplug();
    else if (!strcmp(line, "plug")) avr_reset(avr), plug();
    else if (!strcmp(line, "loader")) loader = 1;
    else if (!strcmp(line, "hang")) hang();
    else if (!strcmp(line, "status"))
        printf("status seconds=%.6f sent=%lu damaged=%lu baud=%lu\n", (double)avr->cycle / CLOCK, sent, damaged, board_baud());
    else if (!strcmp(line, "quit")) return 0;
    else printf("error unknown line: %s\n", line);
    return 1;
}

/* Take lines from the test and bytes from the reader; return 0 to end. */
static int look_around(void) {
    static char line[1024];
    static size_t length;
    struct pollfd in = {.fd = 0, .events = POLLIN};
    while (poll(&in, 1, 0) > 0) {
        char c;
        if (read(0, &c, 1) != 1) return 0;
        if (length + 1 < sizeof line) line[length++] = c;
        if (c == '\n') {
            line[length] = 0, length = 0;
            if (!obey(line)) return 0;
        }
    }
    uint8_t byte;
    while (master >= 0 && !xoff && read(master, &byte, 1) == 1) {
        if (!same_speed()) byte = 0x80 | random_bits();
        avr_raise_irq(uart_irq + UART_IRQ_INPUT, byte);
    }
    return 1;
}

/* Never sleep in the simulator itself: pacing is done in main(). */
static void no_sleep(avr_t *a, avr_cycle_count_t cycles) { (void)a, (void)cycles; }

static void logger(avr_t *a, const int level, const char *format, va_list ap) {
    (void)a;
    if (show_log || level <= LOG_ERROR) vfprintf(stderr, format, ap);
}

int main(int argc, char **argv) {
    elf_firmware_t image = {0};
    setvbuf(stdout, NULL, _IOLBF, 0);
    avr_global_logger_set(logger);
    if (argc < 2 || elf_read_firmware(argv[1], &image)) { fputs("no image\n", stderr); return 2; }
    for (int i = 2; i < argc; i++) {
        if (!strcmp(argv[i], "--speed") && i + 1 < argc) speed = atof(argv[++i]);
        else if (!strcmp(argv[i], "--seed") && i + 1 < argc) random_state ^= strtoull(argv[++i], NULL, 10) * 0x9E3779B97F4A7C15ULL;
        else if (!strcmp(argv[i], "--log")) show_log = 1;
        else { fprintf(stderr, "unknown option %s\n", argv[i]); return 2; }
    }
    avr = avr_make_mcu_by_name("atmega328p");
    avr_init(avr);
    avr->frequency = CLOCK;
    avr->vcc = avr->avcc = avr->aref = 5000;
    avr_load_firmware(avr, &image);
    avr->frequency = CLOCK;
    avr->vcc = avr->avcc = avr->aref = 5000;
    avr->sleep = no_sleep;
    uint32_t flags = 0; /* no echo on the console, no sleeping when polled */
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    adc_irq = avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, 0);
    uart_irq = avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), 0);
    avr_irq_register_notify(adc_irq + ADC_IRQ_OUT_TRIGGER, on_conversion, NULL);
    avr_irq_register_notify(uart_irq + UART_IRQ_OUTPUT, on_byte, NULL);
    avr_irq_register_notify(uart_irq + UART_IRQ_OUT_XON, on_xon, NULL);
    avr_irq_register_notify(uart_irq + UART_IRQ_OUT_XOFF, on_xoff, NULL);
    plug();
    begun = wall();
    for (avr_cycle_count_t next = 0;; next = avr->cycle + CLOCK / 2000) {
        if (!look_around()) break;
        while (avr->cycle < next) {
            if (avr->pc == 0) after_reset();
            int state = avr_run(avr);
            if (state == cpu_Done || state == cpu_Crashed) { fputs("the board crashed\n", stderr); return 1; }
        }
        simulated = (double)avr->cycle / CLOCK;
        double ahead = simulated / speed - (wall() - begun);
        if (ahead > 0) usleep(ahead * 1e6);
        else if (ahead < -0.2) begun = wall() - simulated / speed; /* never race to catch up */
    }
    return 0;
}
