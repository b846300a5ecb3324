// The reader's side of the comparison: writes a long numeric drive, reads it, tells the time and
// the peak memory.
//
//   fuelwright_csv_speed write FILE MEGABYTES
//   fuelwright_csv_speed read FILE
#include <fmt/format.h>
#include <sys/resource.h>

#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <memory>
#include <string>

#include "signals/recording/recording.h"

namespace {

constexpr double kMegabyte = 1e6;

// Forty columns of a drive: names and units of the trade, values that rise and fall.
std::string header() {
  std::string out =
      "Time (s),RPM (rpm),MAP (kPa),TPS (%),CLT (degC),IAT (degC),Lambda (lambda),PW (ms),"
      "Battery (V),Speed (km/h),Spark (deg)";
  for (int i = 12; i <= 40; ++i) out += fmt::format(",Spare {}", i);
  return out + "\n";
}

void add_row(std::string& out, int i) {
  const double t = 0.05 * i;
  const double push = 0.5 + 0.5 * std::sin(t / 7) * std::cos(t / 31);
  const double rpm = 850 + 4200 * push * (0.6 + 0.4 * std::sin(t / 3));
  fmt::format_to(std::back_inserter(out),
                 "{:.2f},{:.0f},{:.1f},{:.1f},{:.1f},{:.1f},{:.3f},{:.3f},{:.2f},{:.1f},{:.1f}", t,
                 rpm, 30 + 65 * push, 3 + 80 * push, 88 + std::sin(t / 90), 31 + std::sin(t / 60),
                 1 + 0.1 * std::sin(t), 2 + 11 * push, 13.8 + 0.2 * std::sin(t / 11), rpm / 40,
                 12 + 20 * (1 - push));
  for (int k = 12; k <= 40; ++k) {
    fmt::format_to(std::back_inserter(out), ",{:.{}f}", 100 * std::sin(t / k) + k, k % 4);
  }
  out += '\n';
}

int write(const std::string& path, double megabytes) {
  const std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(std::fopen(path.c_str(), "wb"),
                                                             &std::fclose);
  if (file == nullptr) return 1;
  std::string part = header();
  double written = 0;
  for (int i = 0; written < megabytes * kMegabyte; ++i) {
    add_row(part, i);
    if (part.size() < (1U << 20U)) continue;
    written += static_cast<double>(std::fwrite(part.data(), 1, part.size(), file.get()));
    part.clear();
  }
  return 0;
}

int read(const std::string& path) {
  const auto from = std::chrono::steady_clock::now();
  const auto bytes = fuelwright::signals::read_file(path);
  if (!bytes) return fmt::print(stderr, "{}\n", bytes.error().line()), 1;
  const auto drive = fuelwright::signals::read_recording(*bytes, "drive.csv", {});
  if (!drive) return fmt::print(stderr, "{}\n", drive.error().line()), 1;
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - from;
  rusage use{};
  getrusage(RUSAGE_SELF, &use);
  fmt::print("{{\"seconds\": {:.4f}, \"rows\": {}, \"columns\": {}, \"peak_mb\": {:.1f}}}\n",
             took.count(), drive->rows, drive->channels.size(),
             static_cast<double>(use.ru_maxrss) * 1024 / kMegabyte);
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  const std::string what = argc > 1 ? argv[1] : "";
  if (what == "write" && argc == 4) return write(argv[2], std::atof(argv[3]));
  if (what == "read" && argc == 3) return read(argv[2]);
  fmt::print(stderr, "usage: fuelwright_csv_speed write FILE MEGABYTES | read FILE\n");
  return 2;
}
