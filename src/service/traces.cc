// Recordings as they are looked at.
#include "service/traces.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "service/checking.h"
#include "service/mapping.h"
#include "service/reading_json.h"

namespace fuelwright::service {
namespace {

using signals::Quantity;
using Of = std::shared_ptr<const DecodedRecording>;

constexpr int kFewestPoints = 2, kMostPoints = 8000;

std::string names_of(const signals::Recording& r) {
  constexpr std::size_t kShown = 12;
  std::string out;
  for (std::size_t i = 0; i < std::min(kShown, r.channels.size()); ++i) {
    out += fmt::format("{}{} {}", i == 0 ? "" : ", ", i, signals::info(r.channels[i].what).name);
  }
  return out + (r.channels.size() > kShown ? " and more" : "");
}

Result<std::vector<std::size_t>> columns_of(const signals::Recording& r,
                                            const std::vector<std::string>& words) {
  std::vector<std::size_t> out;
  if (words.empty()) {
    for (std::size_t i = 0; i < r.channels.size(); ++i) {
      const auto& info = signals::info(r.channels[i].what);
      if (info.needed && r.channels[i].what != Quantity::time) out.push_back(i);
    }
    return out;
  }
  for (const std::string& word : words) {
    const auto before = out.size();
    const bool number =
        word.size() < 7 && std::ranges::all_of(word, [](char c) { return c >= '0' && c <= '9'; });
    const auto quantity = signals::find_quantity(word);
    for (std::size_t i = 0; i < r.channels.size(); ++i) {
      if (number ? std::stoul(word) == i : quantity && r.channels[i].what == *quantity)
        out.push_back(i);
    }
    if (out.size() > before) continue;
    return Error{ErrorCode::not_found, r.name + ": channels",
                 fmt::format("\"{}\" came; expected some of: {}", word.substr(0, 40), names_of(r))};
  }
  return out;
}

// Rows [first, last) whose x lies in the window, and where a bucket begins.
struct Window {
  std::vector<std::size_t> begins;  // rows; one more than buckets
  std::vector<double> x;
  double step = 0;
};

// Rows with time stand in order; one without takes the place after the row before it.
std::size_t first_row_from(const DecodedRecording& of, double x) {
  std::size_t low = 0, high = of.recording.rows;
  while (low < high) {
    const std::size_t mid = (low + high) / 2;
    std::size_t known = mid;
    while (known < high && std::isnan(of.x(known))) ++known;
    if (known < high && of.x(known) < x) {
      low = known + 1;
    } else {
      high = mid;
    }
  }
  return low;
}

Window window_of(const DecodedRecording& of, double from, double to, int points) {
  const std::size_t first = first_row_from(of, from);
  const std::size_t last = first_row_from(of, std::nextafter(to, INFINITY));
  Window w;
  if (last - first <= static_cast<std::size_t>(points)) {
    for (std::size_t i = first; i < last; ++i) {
      w.begins.push_back(i);
      w.x.push_back(of.x(i));
    }
    w.begins.push_back(last);
    return w;
  }
  w.step = (to - from) / points;
  for (int b = 0; b < points; ++b) {
    w.x.push_back(from + b * w.step);
    w.begins.push_back(b == 0 ? first : std::max(w.begins.back(), first_row_from(of, w.x.back())));
  }
  w.begins.push_back(last);
  return w;
}

Trace trace_of(const signals::Channel& channel, std::size_t column, const Window& w) {
  Trace t;
  t.column = column;
  for (std::size_t b = 0; b + 1 < w.begins.size(); ++b) {
    double low = NAN, high = NAN, first = NAN, last = NAN;
    for (std::size_t i = w.begins[b]; i < w.begins[b + 1]; ++i) {
      const double v = channel.si[i];
      if (std::isnan(v)) continue;
      if (std::isnan(first)) first = low = high = v;
      low = std::min(low, v);
      high = std::max(high, v);
      last = v;
    }
    t.low.push_back(low);
    t.high.push_back(high);
    t.first.push_back(first);
    t.last.push_back(last);
  }
  return t;
}

double end_of(const DecodedRecording& of) {
  for (std::size_t i = of.recording.rows; i-- > 0;) {
    if (!std::isnan(of.x(i))) return of.x(i);
  }
  return 0;
}

}  // namespace

double DecodedRecording::x(std::size_t i) const {
  return timed() ? recording.time_s[i] : static_cast<double>(i);
}

std::size_t DecodedRecording::held() const {
  return sizeof(double) * recording.rows * (recording.channels.size() + 1);
}

Result<Of> decode(const std::string& path, std::int64_t id) {
  FW_TRY(const Job job, Job::open(path, Access::read));
  FW_TRY(const UnitSystem units, job.units());
  FW_TRY(RecordingRow row, job.recording({id}));
  FW_TRY(HowRead how,
         read_how(row.reading.mapping_json, fmt::format("{}: recording {}", path, id)));
  FW_TRY(const std::string bytes, job.recording_bytes(row.id));
  FW_TRY(signals::Recording recording, signals::read_recording(bytes, row.name, how.answers));
  return std::make_shared<const DecodedRecording>(
      DecodedRecording{std::move(row), how.driven_with, std::move(recording), units});
}

Result<TracesReply> traces(Of of, const TracesRequest& request) {
  if (request.points < kFewestPoints || request.points > kMostPoints) {
    return Error{
        ErrorCode::out_of_range, "points",
        fmt::format("{} came; expected {} to {}", request.points, kFewestPoints, kMostPoints)};
  }
  const signals::Recording& r = of->recording;
  FW_TRY(const auto columns, columns_of(r, request.channels));
  TracesReply reply;
  reply.from = request.from.value_or(0);
  reply.to = request.to.value_or(end_of(*of));
  if (!(reply.from <= reply.to)) {
    return Error{ErrorCode::usage, "from, to",
                 fmt::format("{:g} and {:g} came; expected the beginning before the end",
                             reply.from, reply.to)};
  }
  Window w = window_of(*of, reply.from, reply.to, request.points);
  reply.step = w.step;
  reply.rows = w.begins.back() - w.begins.front();
  for (const std::size_t i : columns) reply.traces.push_back(trace_of(r.channels[i], i, w));
  reply.x = std::move(w.x);
  reply.of = std::move(of);
  return reply;
}

Result<MasksReply> masks(const std::string& path, std::int64_t id) {
  MasksReply reply;
  FW_TRY(const Job job, Job::open(path, Access::read));
  FW_CHECK(job.recording({id}));
  FW_TRY(Ground g, load_ground(job, path, id));
  const Loaded& l = g.recordings.front();
  const advice::SensorReport report = check_recording(g, l);
  reply.refused = report.refused();
  FW_TRY(const UnitSystem units, job.units());
  reply.of = std::make_shared<const DecodedRecording>(
      DecodedRecording{l.row, l.how.driven_with, l.recording, units});
  std::set<std::pair<Quantity, int>> sensors;
  for (const advice::MaskedShare& s : report.masks.shares(1.0 * second))
    sensors.emplace(s.sensor, s.bank);
  const auto x = [&](std::size_t row) {
    return row < l.recording.rows ? reply.of->x(row) : end_of(*reply.of);
  };
  for (const auto& [sensor, bank] : sensors) {
    std::map<std::string, MasksReply::Mask> by_reason;
    for (const advice::MaskedSpan& s : report.masks.spans(sensor, bank)) {
      auto& m = by_reason[s.why];
      m.sensor = sensor == Quantity::time ? "row" : signals::info(sensor).name;
      m.bank = bank;
      m.why = s.why;
      m.spans.emplace_back(x(s.first), x(s.last));
    }
    for (auto& [why, m] : by_reason) reply.masks.push_back(std::move(m));
  }
  return reply;
}

Result<LookReply> look_at_recording(const std::string& path, const std::string& name,
                                    const std::string& bytes, const signals::Answers& answers) {
  LookReply reply;
  FW_TRY(const Job job, Job::open(path, Access::read));
  signals::Answers known = answers;
  const auto kind = signals::file_kind(bytes, name);
  if (!kind) {
    reply.problem = kind.error().line();
    return reply;
  }
  FW_TRY(const auto kept, kept_answers(job, *kind));
  if (kept) {
    known = merged(known, *kept);
    reply.kept_answers = describe(*kept);
  }
  auto report = signals::recognise(bytes, name, known);
  if (report) {
    reply.report = std::move(*report);
  } else {
    reply.problem = report.error().line();
  }
  return reply;
}

}  // namespace fuelwright::service
