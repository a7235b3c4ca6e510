package postgres_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

func stat(pid int) (ppid int, cpu float64) {
	raw, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return 0, 0
	}
	f := strings.Fields(string(raw)[strings.LastIndex(string(raw), ")")+2:])
	ppid, _ = strconv.Atoi(f[1])
	return ppid, sched(fmt.Sprintf("/proc/%d/schedstat", pid))
}

func sched(path string) float64 {
	raw, err := os.ReadFile(path)
	if err != nil {
		return 0
	}
	ns, _ := strconv.ParseFloat(strings.Fields(string(raw))[0], 64)
	return ns / 1000
}

func serverCPU(post int) float64 {
	sum := 0.0
	dirs, _ := filepath.Glob("/proc/[0-9]*")
	for _, d := range dirs {
		pid, _ := strconv.Atoi(filepath.Base(d))
		if pp, c := stat(pid); pp == post {
			sum += c
		}
	}
	return sum
}

func clientCPU() float64 {
	sum := 0.0
	tasks, _ := filepath.Glob("/proc/self/task/*/schedstat")
	for _, t := range tasks {
		sum += sched(t)
	}
	return sum
}

func (f *fleet) meter(b *testing.B) func() {
	var pid int
	_ = f.pool.QueryRow(context.Background(), "select pg_backend_pid()").Scan(&pid)
	post, _ := stat(pid)
	s, c := serverCPU(post), clientCPU()
	return func() {
		s1, c1 := serverCPU(post), clientCPU()
		b.ReportMetric((s1-s)/float64(b.N), "server-µs/op")
		b.ReportMetric((c1-c)/float64(b.N), "client-µs/op")
		b.ReportMetric((s1-s+c1-c)/float64(b.N), "cpu-µs/op")
	}
}
