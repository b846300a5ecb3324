// Honest files with every way of writing time.
#include <fmt/format.h>

#include <cmath>
#include <functional>

#include "tests/corpus/corpus.h"

namespace fuelwright::corpus {
namespace {

using Q = signals::Quantity;
using Clock = std::function<std::string(double)>;

struct Parts {
  int h, m;
  double s;
};

Parts parts(double seconds) {
  const int h = static_cast<int>(seconds / 3600);
  const int m = static_cast<int>((seconds - h * 3600) / 60);
  return {h, m, seconds - h * 3600 - m * 60};
}

HonestFile timed(const std::string& name, const std::string& header, const Clock& clock,
                 char separator = ',') {
  Draft d = usual_draft();
  d.style.separator = separator;
  d.clock_header = header;
  for (std::size_t i = 0; i < kRows; ++i) d.clock[i] = clock(d.time_s[i]);
  return d.file(name);
}

std::string hms(double t, int decimals = 1) {
  const Parts p = parts(t);
  return fmt::format("{:02}:{:02}:{:0{}.{}f}", p.h, p.m, p.s, 3 + decimals, decimals);
}

constexpr double kMorning = 9 * 3600 + 59 * 60 + 50;  // an hour passes under way
constexpr double kLate = 24 * 3600 - 12;              // midnight passes under way

std::string over_midnight(double t, const char* before, const char* after) {
  const double s = kLate + t;
  return s < 86400 - 0.01 ? fmt::format("{} {}", before, hms(s))
                          : fmt::format("{} {}", after, hms(s < 86400 ? 0 : s - 86400));
}

void plain(std::vector<HonestFile>& out) {
  out.push_back(
      timed("ms.csv", "Time (ms)", [](double t) { return fmt::format("{:.0f}", 1e3 * t); }));
  out.push_back(
      timed("ms_unsaid.csv", "Time", [](double t) { return fmt::format("{:.0f}", 1e3 * t); }));
  out.push_back(
      timed("s_unsaid.csv", "Timestamp", [](double t) { return fmt::format("{:.1f}", t); }));
  out.push_back(
      timed("minutes.csv", "Time (min)", [](double t) { return fmt::format("{:.9f}", t / 60); }));
  out.push_back(
      timed("epoch_s.csv", "Timestamp", [](double t) { return fmt::format("{:.1f}", 1.7e9 + t); }));
  out.push_back(timed("epoch_ms.csv", "timestamp",
                      [](double t) { return fmt::format("{:.0f}", 1.7e12 + 1e3 * t); }));
  out.push_back(timed("serial.csv", "Time",
                      [](double t) { return fmt::format("{:.10f}", 46146.4 + t / 86400); }));
}

void clocks(std::vector<HonestFile>& out) {
  out.push_back(timed("clock.csv", "Time", [](double t) { return hms(kMorning + t); }));
  out.push_back(
      timed("clock_unit.csv", "Time (hh:mm:ss.f)", [](double t) { return hms(kMorning + t); }));
  out.push_back(timed("clock_ms.csv", "Uhrzeit", [](double t) {
    std::string s = hms(kMorning + t, 3);
    s[8] = ':';
    return s;
  }));
  out.push_back(timed(
      "clock_comma.csv", "Heure",
      [](double t) {
        std::string s = hms(kMorning + t, 2);
        s[8] = ',';
        return s;
      },
      ';'));
  out.push_back(timed("minutes_seconds.csv", "Elapsed", [](double t) {
    const Parts p = parts(t);
    return fmt::format("{}:{:04.1f}", p.m, p.s);
  }));
  out.push_back(timed("clock_midnight.csv", "Clock", [](double t) {
    const double s = kLate + t;
    return hms(s < 86400 - 0.01 ? s : s < 86400 ? 0 : s - 86400);
  }));
}

void dates(std::vector<HonestFile>& out) {
  out.push_back(timed("iso.csv", "Timestamp",
                      [](double t) { return "2026-05-04T" + hms(kMorning + t, 3) + "Z"; }));
  out.push_back(timed("iso_blank.csv", "Date",
                      [](double t) { return "2026-05-04 " + hms(kMorning + t, 3); }));
  out.push_back(timed("iso_zone.csv", "When",
                      [](double t) { return "2026-05-04T" + hms(kMorning + t) + "+02:00"; }));
  out.push_back(timed(
      "points.csv", "Datum", [](double t) { return "04.05.2026 " + hms(kMorning + t); }, ';'));
  out.push_back(timed("half_day.csv", "Date", [](double t) {
    const Parts p = parts(kMorning + t);
    return fmt::format("5/4/2026 {}:{:02}:{:04.1f} AM", p.h, p.m, p.s);
  }));
  out.push_back(timed("iso_midnight.csv", "Time",
                      [](double t) { return over_midnight(t, "2026-02-28", "2026-03-01"); }));
  out.push_back(timed("shown_midnight.csv", "Time",
                      [](double t) { return over_midnight(t, "12/31/2026", "1/1/2027"); }));
  HonestFile said = timed("said_midnight.csv", "Date",
                          [](double t) { return over_midnight(t, "04.05.2026", "05.05.2026"); });
  said.answers.channels["Date"] = {Q::time, "day first"};
  out.push_back(std::move(said));
  HonestFile two = timed("date_and_clock.csv", "Date,Time", [](double t) {
    std::string s = over_midnight(t, "2026-12-31", "2027-01-01");
    s[10] = ',';
    return s;
  });
  out.push_back(std::move(two));
}

void steps(std::vector<HonestFile>& out) {
  Draft uneven = usual_draft();
  for (std::size_t i = 0; i < kRows; ++i) {
    uneven.time_s[i] = static_cast<double>((i * 103 + i % 7 * 10) / 10) / 100;
    uneven.clock[i] = fmt::format("{:.2f}", uneven.time_s[i]);
  }
  out.push_back(uneven.file("uneven.csv"));
  for (const double jump : {600.0, -15.0}) {
    Draft d = usual_draft();
    for (std::size_t i = 200; i < kRows; ++i) {
      d.time_s[i] += jump;
      d.clock[i] = fmt::format("{:.1f}", d.time_s[i]);
    }
    HonestFile f = d.file(fmt::format("jump_{:.0f}.csv", jump));
    f.segments = 2;
    out.push_back(std::move(f));
  }
  Draft gone = usual_draft();
  for (std::size_t i = 0; i < kRows; ++i) {
    if (i % 3 != 0) gone.clock[i].clear();
    if (i % 3 != 0) gone.time_s[i] = std::nan("");
  }
  out.push_back(gone.file("time_with_gaps.csv"));
  Draft none = usual_draft();
  none.clock.clear();
  out.push_back(none.file("no_time.csv"));
  HonestFile rate = none.file("no_time_but_rate.csv");
  rate.answers.row_step = kStep_s * second;
  for (std::size_t i = 0; i < kRows; ++i) rate.time_s.push_back(kStep_s * static_cast<double>(i));
  out.push_back(std::move(rate));
}

}  // namespace

std::vector<HonestFile> honest_times() {
  std::vector<HonestFile> out;
  plain(out);
  clocks(out);
  dates(out);
  steps(out);
  return out;
}

}  // namespace fuelwright::corpus
