//go:build race

package oracle_test

// ordinarily is how many cases are judged when nobody asks for more. With the race detector on each takes much longer.
const ordinarily = 10_000
