-- One request over and over, said by the environment; what wrk measured comes out as one JSON line.
wrk.method = os.getenv("BENCH_METHOD")
wrk.body = os.getenv("BENCH_BODY")
if wrk.body then
  wrk.headers["Content-Type"] = "application/json"
end

function done(summary, latency, requests)
  local e = summary.errors
  io.write(string.format(
    '\n{"requests": %d, "seconds": %.6f, "p99_ms": %.3f, "failures": %d}\n',
    summary.requests, summary.duration / 1e6, latency:percentile(99) / 1e3,
    e.connect + e.read + e.write + e.status + e.timeout))
end
