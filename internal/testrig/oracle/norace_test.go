//go:build !race

package oracle_test

// ordinarily is how many cases are judged when nobody asks for more.
const ordinarily = 50_000
