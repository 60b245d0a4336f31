// Pedal bench board for an ATmega328P with a 16 MHz crystal: everything is in pedal_board.c,
// which the environment compiles along with this file. It brings its own main(), so there is no
// setup() and no loop() here. Choose the board and the port, and upload.
