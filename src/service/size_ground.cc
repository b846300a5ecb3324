#include "service/size_ground.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "service/reading_json.h"

namespace fuelwright::service {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* kSetting = "measured supply";
constexpr const char* kOption = "--measured";

Json json_of(const std::vector<MeasuredValue>& values) {
  Json out = Json::array();
  for (const MeasuredValue& v : values) out.push_back({{"key", v.key}, {"value", v.value}});
  return out;
}

void put(std::vector<MeasuredValue>* into, const MeasuredValue& value) {
  const auto same = std::find_if(into->begin(), into->end(),
                                 [&](const MeasuredValue& v) { return v.key == value.key; });
  if (same == into->end()) {
    into->push_back(value);
  } else {
    same->value = value.value;
  }
}

std::string quoted(const std::string& text) {
  // A list or an inline table is TOML already.
  if (text.starts_with('[') || text.starts_with('{')) return text;
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    if (static_cast<unsigned char>(c) >= 0x20) out += c;
  }
  return out + "\"";
}

std::string measured_line(const MeasuredValue& v) {
  const std::string value = quoted(v.value);
  if (value.starts_with('{')) return v.key + " = " + value;
  const char* name = value.starts_with('[') ? "values" : "value";
  return fmt::format("{} = {{ {} = {}, source = \"measured\" }}", v.key, name, value);
}

// "pump_volts" of a line "pump_volts = ..." or "# pump_volts = ..."; empty for other lines.
std::string key_of(std::string_view line) {
  if (line.starts_with("# ")) line.remove_prefix(2);
  const auto end = line.find(" = ");
  if (end == std::string_view::npos) return "";
  const std::string_view key = line.substr(0, end);
  const bool plain =
      key.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789_") == std::string_view::npos;
  return plain ? std::string(key) : "";
}

// The lines of a text; every section but `only` hidden from `change`.
template <class Change>
std::string changed_section(const std::string& text, std::string_view only, Change change) {
  std::string out;
  bool inside = false;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find('\n', at), text.size());
    std::string line = text.substr(at, end - at);
    if (line.starts_with('[')) inside = line == only;
    if (inside) change(line);
    out += line + "\n";
    at = end + 1;
  }
  return out;
}

// ---- pulls

constexpr double kOpen = 0.92;      // of ambient pressure in the manifold: full throttle
constexpr double kWideOpen = 0.90;  // of the throttle's travel, where no pressure is recorded
constexpr std::size_t kFewestRows = 8;
constexpr double kSpan_rpm = 500;

class Pulls {
 public:
  Pulls(const signals::Recording& r, const car::Sheet& sheet)
      : recording_(r),
        ambient_(sheet.place.pressure.value.from_zero.si),
        rpm_(r.find(signals::Quantity::rpm)),
        map_(r.find(signals::Quantity::map)),
        throttle_(r.find(signals::Quantity::throttle)),
        rail_(r.find(signals::Quantity::fuel_pressure)) {}

  bool there() const { return rpm_ && rail_ && (map_ || throttle_); }

  // The pull that spans most of the speeds.
  std::optional<physics::supply::RailTrace> longest() const {
    std::optional<physics::supply::RailTrace> best;
    double most = kSpan_rpm;
    for (const signals::Segment& s : recording_.segments) {
      for (std::size_t first = s.first; first < s.last; ++first) {
        if (!open(first)) continue;
        std::size_t last = first;
        while (last < s.last && open(last)) ++last;
        const double span = spans(first, last);
        if (last - first >= kFewestRows && span >= most) {
          most = span;
          best = trace(first, last);
        }
        first = last;
      }
    }
    return best;
  }

 private:
  bool open(std::size_t i) const {
    if (!std::isfinite(rpm_->si[i]) || !std::isfinite(rail_->si[i])) return false;
    return map_ ? map_->si[i] >= kOpen * ambient_ : throttle_->si[i] >= kWideOpen;
  }
  double spans(std::size_t first, std::size_t last) const {
    const auto [low, high] =
        std::minmax_element(rpm_->si.begin() + static_cast<std::ptrdiff_t>(first),
                            rpm_->si.begin() + static_cast<std::ptrdiff_t>(last));
    return *high - *low;
  }
  physics::supply::RailTrace trace(std::size_t first, std::size_t last) const {
    physics::supply::RailTrace out;
    for (std::size_t i = first; i < last; ++i) {
      out.speed.push_back(rpm(rpm_->si[i]));
      out.rail.push_back(gauge(PressureStep{rail_->si[i]}));
      out.manifold.push_back(absolute(PressureStep{map_ ? map_->si[i] : 0.98 * ambient_}));
    }
    return out;
  }

  const signals::Recording& recording_;
  double ambient_;
  const signals::Channel *rpm_, *map_, *throttle_, *rail_;
};

}  // namespace

Result<std::vector<MeasuredValue>> kept_measured(const Job& job) {
  std::vector<MeasuredValue> out;
  FW_TRY(const std::optional<std::string> kept, job.setting(kSetting));
  if (!kept) return out;
  const auto json = Json::parse(*kept, nullptr, false);
  const Error damaged{ErrorCode::damaged, job.path(),
                      fmt::format("the setting '{}' is not as it was written", kSetting)};
  if (!json.is_array()) return damaged;
  for (const auto& one : json) {
    if (!one.is_object() || !one.contains("key") || !one.contains("value") ||
        !one["key"].is_string() || !one["value"].is_string())
      return damaged;
    out.push_back({one["key"].get<std::string>(), one["value"].get<std::string>()});
  }
  return out;
}

Result<std::vector<MeasuredValue>> keep_measured(Job& job, const SizeRequest& request) {
  FW_TRY(const std::vector<MeasuredValue> before, kept_measured(job));
  std::vector<MeasuredValue> now;
  if (!request.forget_measured) now = before;
  for (const MeasuredValue& v : request.measured) put(&now, v);
  const std::string text = json_of(now).dump();
  if (text == json_of(before).dump()) return now;
  FW_CHECK(job.set_setting(kSetting, text,
                           {request.who, request.when, "what was measured of the fuel supply"}));
  return now;
}

Result<car::Sheet> with_measured(const car::Sheet& sheet,
                                 const std::vector<MeasuredValue>& values) {
  if (values.empty()) return sheet;
  std::string toml = car::write_sheet(sheet);
  for (const MeasuredValue& v : values) {
    bool found = false;
    std::vector<std::string> keys;
    toml = changed_section(toml, "[supply]", [&](std::string& line) {
      const std::string key = key_of(line);
      if (!key.empty()) keys.push_back(key);
      if (key != v.key) return;
      line = measured_line(v);
      found = true;
    });
    if (found) continue;
    const auto near = nearest(v.key, keys);
    return Error{ErrorCode::not_found, kOption,
                 fmt::format("\"{}\" came; expected a key of the sheet's section [supply]{}", v.key,
                             near ? ", perhaps " + *near : "")};
  }
  auto out = car::read_sheet(toml, "sheet with what was measured");
  if (out) return out;
  // The line of a text that nobody has seen says nothing; the key does.
  const std::string& where = out.error().where;
  const auto key = where.rfind(": ");
  return Error{
      out.error().code,
      fmt::format("{}{}", kOption, key == std::string::npos ? "" : ": " + where.substr(key + 2)),
      out.error().message};
}

std::optional<physics::supply::RailTrace> rail_trace_of(const signals::Recording& recording,
                                                        const car::Sheet& sheet) {
  const Pulls pulls(recording, sheet);
  return pulls.there() ? pulls.longest() : std::nullopt;
}

Result<std::optional<Pull>> recorded_pull(const Job& job, const car::Sheet& sheet) {
  FW_TRY(const std::vector<RecordingRow> rows, job.recordings());
  for (auto row = rows.rbegin(); row != rows.rend(); ++row) {
    FW_TRY(const HowRead how, read_how(row->reading.mapping_json,
                                       fmt::format("{}: recording {}", job.path(), row->id.value)));
    FW_TRY(const std::string bytes, job.recording_bytes(row->id));
    FW_TRY(const signals::Recording recording,
           signals::read_recording(bytes, row->name, how.answers));
    auto trace = rail_trace_of(recording, sheet);
    if (!trace) continue;
    const auto [low, high] = std::minmax_element(trace->speed.begin(), trace->speed.end());
    const PullUsed used{row->id.value, row->name, *low, *high, trace->speed.size()};
    return std::optional(Pull{std::move(*trace), used});
  }
  return std::optional<Pull>{};
}

}  // namespace fuelwright::service
