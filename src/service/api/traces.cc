// Recordings as they are looked at, as JSON.
#include <cmath>

#include "service/api/json.h"
#include "service/api/pieces.h"

namespace fuelwright::service {
namespace {

using pieces::Json;
using pieces::maybe;
using pieces::number;
using pieces::numbers;

Json shown(const signals::Channel& c, UnitSystem units) {
  const UnitInfo unit = signals::shown_unit(c.what, c.kind, units);  // SI = value * factor + offset
  return {
      {"unit", unit.symbol}, {"factor", 1 / unit.factor}, {"offset", -unit.offset / unit.factor}};
}

Json channel(const signals::Channel& c, std::size_t column, UnitSystem units) {
  double low = NAN, high = NAN;
  for (const double v : c.si) {
    if (std::isnan(v)) continue;
    low = std::isnan(low) ? v : std::min(low, v);
    high = std::isnan(high) ? v : std::max(high, v);
  }
  const auto& info = signals::info(c.what);
  return {
      {"column", column},       {"header", c.header},       {"quantity", info.name},
      {"label", info.label},    {"kind", describe(c.kind)}, {"shown", shown(c, units)},
      {"unit", c.unit},         {"bank", c.bank},           {"confidence", c.confidence},
      {"constant", c.constant}, {"reason", c.reason},       {"refresh_rows", maybe(c.refresh.rows)},
      {"low", number(low)},     {"high", number(high)}};
}

}  // namespace

std::string json(const DecodedRecording& d) {
  const signals::Recording& r = d.recording;
  Json channels = Json::array(), segments = Json::array();
  for (std::size_t i = 0; i < r.channels.size(); ++i) {
    channels.push_back(channel(r.channels[i], i, d.units));
  }
  for (const signals::Segment& s : r.segments) {
    if (s.last <= s.first) continue;
    segments.push_back(
        {{"label", s.label}, {"from_s", number(d.x(s.first))}, {"to_s", number(d.x(s.last - 1))}});
  }
  const bool seconds = r.row_step && r.pace != signals::Pace::unordered;
  return pieces::done(
      {{"id", d.row.id.value},
       {"name", d.row.name},
       {"rows", r.rows},
       {"timed", d.timed()},
       {"seconds", seconds ? Json(r.row_step->si * static_cast<double>(r.rows)) : Json(nullptr)},
       {"pace", r.pace_reason},
       {"simultaneity", r.simultaneity_reason},
       {"driven_with", maybe(d.driven_with)},
       {"channels", channels},
       {"segments", segments},
       {"warnings", r.warnings}});
}

std::string json(const TracesReply& t) {
  Json channels = Json::array();
  for (const Trace& one : t.traces) {
    const signals::Channel& c = t.of->recording.channels[one.column];
    channels.push_back({{"column", one.column},
                        {"header", c.header},
                        {"quantity", signals::info(c.what).name},
                        {"bank", c.bank},
                        {"low", numbers(one.low)},
                        {"high", numbers(one.high)},
                        {"first", numbers(one.first)},
                        {"last", numbers(one.last)}});
  }
  return pieces::done_short({{"id", t.of->row.id.value},
                             {"timed", t.of->timed()},
                             {"from", t.from},
                             {"to", t.to},
                             {"raw", t.step == 0},
                             {"step", t.step},
                             {"rows", t.rows},
                             {"x", numbers(t.x)},
                             {"channels", channels}});
}

std::string json(const MasksReply& m) {
  Json masks = Json::array();
  for (const MasksReply::Mask& one : m.masks) {
    Json spans = Json::array();
    for (const auto& [from, to] : one.spans) spans.push_back({number(from), number(to)});
    masks.push_back(
        {{"sensor", one.sensor}, {"bank", one.bank}, {"why", one.why}, {"spans", spans}});
  }
  return pieces::done_short({{"id", m.of->row.id.value},
                             {"timed", m.of->timed()},
                             {"refused", maybe(m.refused)},
                             {"masks", masks}});
}

}  // namespace fuelwright::service
