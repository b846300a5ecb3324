#include "service/chart_nodes.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "car/tables/value_unit.h"

namespace fuelwright::service {
namespace {

using signals::Quantity;

constexpr double kWarmRows_k = 343.15;  // as rows of an estimate

// Where a recording's rows stand on a grid's axes.
struct Places {
  const signals::Channel* n = nullptr;
  const signals::Channel* load = nullptr;
  const signals::Channel* baro = nullptr;
  bool vacuum = false;
  double ambient = 0;

  static Places of(const signals::Recording& r, const car::Grid& grid, AbsolutePressure ambient) {
    const car::AxisKind kind = grid.y.kind();
    Places p;
    p.n = r.find(Quantity::rpm);
    p.load = r.find(kind == car::AxisKind::throttle ? Quantity::throttle : Quantity::map);
    p.vacuum = kind == car::AxisKind::vacuum;
    if (p.vacuum) p.baro = r.find(Quantity::baro);
    p.ambient = ambient.from_zero.si;
    return p;
  }
  bool known() const { return n && load; }
  double x(std::size_t i) const { return n->si[i]; }
  double y(std::size_t i) const {
    if (!vacuum) return load->si[i];
    const double outside = baro && !std::isnan(baro->si[i]) ? baro->si[i] : ambient;
    return outside - load->si[i];
  }
};

double row_seconds(const DecodedRecording& of) {
  const auto& r = of.recording;
  return of.timed() && r.row_step ? r.row_step->si : 1.0;
}

std::string share(double v) { return fmt::format("{:.1f} %", 100 * v); }

std::string rests(const ChartReply& c, std::size_t i) {
  std::string out;
  for (const Rests& r : c.rests_on) {
    if (r.seconds[i] < 0.5) continue;
    out += fmt::format("{}recording {} ({:.0f} s)", out.empty() ? "" : ", ", r.id, r.seconds[i]);
  }
  return out;
}

std::string basis_words(const ChartReply& c, std::size_t i) {
  if (c.basis == Basis::parts) return "computed from the parts, not driven";
  const std::string there = rests(c, i);
  switch (c.evidence->mark[i]) {
    case car::NodeMark::measured:
      return there.empty() ? "driven" : "driven in " + there;
    case car::NodeMark::inferred:
      return "follows from its neighbours" + (there.empty() ? "" : "; touched in " + there);
    case car::NodeMark::prior_only:
      return "a guess: nothing driven says more than was known before";
  }
  broken_contract("a mark of a node", __FILE__, __LINE__);
}

}  // namespace

Rests rests_on(const DecodedRecording& of, const car::Grid& grid, AbsolutePressure ambient) {
  Rests out{of.row.id.value, of.row.name, std::vector<double>(grid.size(), 0.0)};
  const Places p = Places::of(of.recording, grid, ambient);
  if (!p.known()) return out;
  const auto* coolant = of.recording.find(Quantity::coolant);
  const double dt = row_seconds(of);
  for (std::size_t i = 0; i < of.recording.rows; ++i) {
    if (coolant && coolant->si[i] < kWarmRows_k) continue;
    if (!(p.x(i) > 0) || std::isnan(p.y(i))) continue;
    const car::NodeShares s = grid.shares(p.x(i), p.y(i));
    for (int k = 0; k < s.count; ++k) {
      out.seconds[static_cast<std::size_t>(s.node[static_cast<std::size_t>(k)])] +=
          dt * s.share[static_cast<std::size_t>(k)];
    }
  }
  return out;
}

std::vector<std::string> node_words(const ChartReply& c) {
  std::vector<std::string> out;
  const car::ValueUnit unit = car::unit_of(c.table);
  const car::Grid& g = *c.grid;
  for (std::size_t i = 0; i < g.size(); ++i) {
    std::string line = fmt::format("{}, {}: ", g.x.format_point(i % g.x.size(), c.units),
                                   g.y.format_point(i / g.x.size(), c.units));
    if (c.evidence) {
      const car::Evidence& e = *c.evidence;
      line += fmt::format("{} \xC2\xB1 {}, {:.0f} s, {}",
                          car::format_value(e.estimate[i], unit, c.units), share(e.half_width(i)),
                          e.seconds[i], basis_words(c, i));
    } else {
      line += car::format_value(c.in_force->values[i], unit, c.units);
    }
    if (c.evidence && c.in_force) {
      line += fmt::format("; revision {} has {}", c.revision,
                          car::format_value(c.in_force->values[i], unit, c.units));
    }
    if (c.proposed) line += ", proposed " + car::format_value(c.proposed->values[i], unit, c.units);
    out.push_back(line + ".");
  }
  return out;
}

// ---- along a line
// ------------------------------------------------------------------------------------------------

Result<SectionReply> section(const ChartReply& c, const SectionLine& line, int points) {
  if (points < 2 || points > 1000) {
    return Error{ErrorCode::out_of_range, "points",
                 fmt::format("{} came; expected 2 to 1000", points)};
  }
  SectionReply r;
  r.table = c.table;
  r.units = c.units;
  r.basis = c.basis;
  const car::Grid& g = *c.grid;
  for (int k = 0; k < points; ++k) {
    const double at = static_cast<double>(k) / (points - 1);
    const double x = line.x0 + at * (line.x1 - line.x0), y = line.y0 + at * (line.y1 - line.y0);
    r.at.push_back(at);
    r.x.push_back(x);
    r.y.push_back(y);
    const car::NodeShares s = g.shares(x, y);
    const auto mean = [&](const std::vector<double>& v) {
      double sum = 0;
      for (std::size_t j = 0; j < static_cast<std::size_t>(s.count); ++j)
        sum += s.share[j] * v[static_cast<std::size_t>(s.node[j])];
      return sum;
    };
    if (c.evidence) {
      const double estimate = mean(c.evidence->estimate);
      const double spread = std::exp(1.959964 * mean(c.evidence->sd_log));
      r.estimate.push_back(estimate);
      r.low.push_back(estimate / spread);
      r.high.push_back(estimate * spread);
      r.seconds.push_back(mean(c.evidence->seconds));
    }
    if (c.in_force) r.in_force.push_back(mean(c.in_force->values));
    if (c.proposed) r.proposed.push_back(mean(c.proposed->values));
  }
  return r;
}

// ---- the way over the chart
// --------------------------------------------------------------------------------------

Track track(const DecodedRecording& of, const car::Grid& grid, AbsolutePressure ambient,
            std::size_t points) {
  Track out{of.row.id.value, of.row.name, {}, {}, {}, {}};
  const Places p = Places::of(of.recording, grid, ambient);
  if (!p.known()) {
    out.without = p.n ? "has no load as the chart's side reads it" : "has no engine speed";
    return out;
  }
  // A place is kept once the way has gone a step from the last one, both sides of the chart being 1
  // long; the step that fits is found by halving.
  const double wide = grid.x.size() > 1 ? grid.x[grid.x.size() - 1] - grid.x[0] : 1;
  const double high = grid.y.size() > 1 ? grid.y[grid.y.size() - 1] - grid.y[0] : 1;
  const auto keep = [&](double step, Track& to) {
    to.x.clear();
    to.y.clear();
    to.t.clear();
    bool gap = true;
    double lx = 0, ly = 0;
    for (std::size_t i = 0; i < of.recording.rows; ++i) {
      const double x = p.x(i), y = p.y(i);
      if (std::isnan(x) || std::isnan(y)) continue;
      if (!(x > 0)) {
        if (!gap) {
          to.x.push_back(NAN);
          to.y.push_back(NAN);
          to.t.push_back(NAN);
        }
        gap = true;
        continue;
      }
      if (!gap && std::hypot((x - lx) / wide, (y - ly) / high) < step) continue;
      gap = false;
      lx = x;
      ly = y;
      to.x.push_back(x);
      to.y.push_back(y);
      to.t.push_back(of.x(i));
      if (to.x.size() > 8 * points) return;  // far too fine
    }
  };
  double step = 0;
  keep(step, out);
  for (step = 1e-4; out.x.size() > points && step < 2; step *= 2) keep(step, out);
  return out;
}

}  // namespace fuelwright::service
