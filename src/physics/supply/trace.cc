#include "physics/supply/trace.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "base/contract.h"
#include "physics/supply/balance.h"

namespace fuelwright::physics::supply {
namespace {

constexpr std::size_t kMostBins = 12;
constexpr double kReading = 0.005;             // of the rail, one standard deviation of a bin
constexpr double kSettingPrior = 0.05 / 1.96;  // share
constexpr double kWorn = 0.05, kWornWide = 0.4;

Error bad_trace(std::string message) {
  return {ErrorCode::bad_input, "rail trace", std::move(message)};
}

// One bin as (supply.21) reads it.
struct Row {
  double rail;      // as read, without the sensor's own error
  double strength;  // k_i
  double slope;     // dk/dp there, above 0
  double above;     // of the rail over the setting while it holds
  double weight;    // 1/s
};

MassFlow fuel_between(std::span<const Need> needs, double n) {
  std::size_t k = 0;
  while (k + 2 < needs.size() && n > needs[k + 1].speed.rpm) ++k;
  const double t = (n - needs[k].speed.rpm) / (needs[k + 1].speed.rpm - needs[k].speed.rpm);
  return (1 - t) * needs[k].fuel + t * needs[k + 1].fuel;
}

// The strength with which the pump keeps the rail at p.
double strength_at(const System& unit, const Need& need, double p) {
  const AbsolutePressure ambient = unit.ambient;
  const AbsolutePressure at_tip = tip_pressure(unit.arrangement, need.manifold, ambient);
  const double tip = (at_tip - ambient).si;
  const double set = across_nozzle(unit, need.manifold, need.fuel).si;
  const double rho = unit.tank_density().si;
  const double share = std::sqrt(std::max(1e-6, p - tip) / std::max(1.0, set));
  const VolumeFlow q{need.fuel.si / rho * share};
  const double behind =
      set_pressure(unit, need.manifold).above_ambient.si - (set + tip);  // returnless: the hose
  const PressureStep rise = pump_works_against(unit, gauge(PressureStep{p + behind}), q);
  const Voltage volts = volts_at_pump(unit.wiring, pump_current(unit.pump, rise));
  const double one = pump_flow(unit.pump, rise, volts).si;
  return one > 0 ? q.si / one : 1e3;  // (supply.21)
}

std::vector<Row> rows_of(const System& s, std::span<const RailBin> bins,
                         std::span<const Need> needs, PressureStep sensor) {
  System unit = s;
  unit.pump.strength = 1;
  std::vector<Row> out;
  for (const RailBin& bin : bins) {
    const double n = bin.speed.rpm;
    if (n < needs.front().speed.rpm || n > needs.back().speed.rpm) continue;
    const Need need{bin.speed, bin.manifold, fuel_between(needs, n)};
    const double p = bin.rail.above_ambient.si - sensor.si;
    const double move = 0.01 * s.regulator.setting.si;
    Row row;
    row.rail = p;
    row.strength = strength_at(unit, need, p);
    row.slope = std::max(1e-9, (strength_at(unit, need, p + move) - row.strength) / move);
    const AbsolutePressure tip = tip_pressure(s.arrangement, need.manifold, s.ambient);
    row.above = (tip - s.ambient).si + across_nozzle(s, need.manifold, need.fuel).si -
                s.regulator.setting.si;
    row.weight = 1 / std::max(500.0, kReading * p);
    out.push_back(row);
  }
  return out;
}

struct Window {  // of ln k and of the setting's share
  double k_low, k_high, s_low, s_high;
};

class Density {
 public:
  Density(std::vector<Row> rows, double setting, const StrengthPrior& prior)
      : rows_(std::move(rows)), setting_(setting), prior_(prior) {}

  // Logarithm of (supply.24), up to a constant.
  double operator()(double ln_k, double share) const {
    const double k = std::exp(ln_k), set = setting_ * (1 + share);
    double sum = 0;
    for (const Row& r : rows_) {
      const double p = std::min(set + r.above, r.rail + (k - r.strength) / r.slope);
      const double x = (p - r.rail) * r.weight;
      sum += x * x;
    }
    const double z = ln_k - prior_.ln_middle;
    const auto normal = [](double x, double sd) { return std::exp(-x * x / (2 * sd * sd)) / sd; };
    const double of_k = (1 - kWorn) * normal(z, prior_.sd) + kWorn * normal(z, kWornWide);
    const double y = share / kSettingPrior;
    return -sum / 2 + std::log(std::max(1e-300, of_k)) - y * y / 2;
  }

 private:
  std::vector<Row> rows_;
  double setting_;
  const StrengthPrior& prior_;
};

constexpr int kAlongK = 48, kAlongSet = 24;
constexpr double kNothing = 14;  // ln, below the highest: left out

struct Cell {
  double ln_k, share, density;
};

std::vector<Cell> cells(const Density& density, const Window& w) {
  std::vector<Cell> out;
  double most = -1e300;
  for (int i = 0; i < kAlongK; ++i) {
    for (int j = 0; j < kAlongSet; ++j) {
      const double k = w.k_low + (w.k_high - w.k_low) * (i + 0.5) / kAlongK;
      const double s = w.s_low + (w.s_high - w.s_low) * (j + 0.5) / kAlongSet;
      out.push_back({k, s, density(k, s)});
      most = std::max(most, out.back().density);
    }
  }
  for (Cell& c : out) c.density = c.density > most - kNothing ? std::exp(c.density - most) : 0;
  return out;
}

// What holds all that counts, and a cell around it.
Window narrower(const std::vector<Cell>& all, const Window& w) {
  Window out{w.k_high, w.k_low, w.s_high, w.s_low};
  const double dk = (w.k_high - w.k_low) / kAlongK, ds = (w.s_high - w.s_low) / kAlongSet;
  for (const Cell& c : all) {
    if (c.density <= 0) continue;
    out.k_low = std::min(out.k_low, c.ln_k - dk);
    out.k_high = std::max(out.k_high, c.ln_k + dk);
    out.s_low = std::min(out.s_low, c.share - ds);
    out.s_high = std::max(out.s_high, c.share + ds);
  }
  return out;
}

Cell mean_of(const std::vector<Cell>& all) {
  Cell out{0, 0, 0};
  for (const Cell& c : all) {
    out.ln_k += c.density * c.ln_k;
    out.share += c.density * c.share;
    out.density += c.density;
  }
  out.ln_k /= out.density;
  out.share /= out.density;
  return out;
}

// A cell by its density; ln k runs slowest, so `strength` chooses k and `setting` within the row.
Cell drawn_of(const std::vector<Cell>& all, const TraceDraw& d) {
  std::array<double, kAlongK> rows{};
  double total = 0;
  for (std::size_t i = 0; i < all.size(); ++i) rows[i / kAlongSet] += all[i].density;
  for (const double r : rows) total += r;
  std::size_t row = 0;
  double left = d.strength * total;
  while (row + 1 < rows.size() && left > rows[row]) left -= rows[row++];
  const double inside = rows[row] > 0 ? std::clamp(left / rows[row], 0.0, 1.0) : 0.5;
  double share = d.setting * rows[row];
  std::size_t i = row * kAlongSet;
  while (i + 1 < (row + 1) * kAlongSet && share > all[i].density) share -= all[i++].density;
  const double dk = (all.back().ln_k - all.front().ln_k) / (kAlongK - 1);
  return {all[i].ln_k + (inside - 0.5) * dk, all[i].share, 1};
}

}  // namespace

Result<std::vector<RailBin>> binned(const RailTrace& t) {
  if (t.rail.size() != t.speed.size() || t.manifold.size() != t.speed.size()) {
    return bad_trace(fmt::format("{} speeds, {} rail pressures, {} manifold pressures",
                                 t.speed.size(), t.rail.size(), t.manifold.size()));
  }
  constexpr std::size_t kFewest = 8;
  if (t.speed.size() < kFewest)
    return bad_trace(fmt::format("{} samples, expected {} or more", t.speed.size(), kFewest));
  double low = t.speed[0].rpm, high = low;
  for (std::size_t i = 0; i < t.speed.size(); ++i) {
    if (!std::isfinite(t.speed[i].rpm) || !std::isfinite(t.rail[i].above_ambient.si) ||
        !std::isfinite(t.manifold[i].from_zero.si)) {
      return bad_trace(fmt::format("sample {} is not a number", i + 1));
    }
    low = std::min(low, t.speed[i].rpm);
    high = std::max(high, t.speed[i].rpm);
  }
  constexpr double kLeastSpan = 500;
  if (high - low < kLeastSpan) {
    return Error{ErrorCode::out_of_range, "rail trace",
                 fmt::format("from {:.0f} to {:.0f} rpm, expected a pull over {:.0f} rpm or more",
                             low, high, kLeastSpan)};
  }
  struct Sum {
    double n = 0, p = 0, m = 0;
    int count = 0;
  };
  std::array<Sum, kMostBins> sums{};
  for (std::size_t i = 0; i < t.speed.size(); ++i) {
    const double share = (t.speed[i].rpm - low) / (high - low);
    Sum& s = sums[std::min(kMostBins - 1, static_cast<std::size_t>(share * kMostBins))];
    s.n += t.speed[i].rpm;
    s.p += t.rail[i].above_ambient.si;
    s.m += t.manifold[i].from_zero.si;
    ++s.count;
  }
  std::vector<RailBin> out;
  for (const Sum& s : sums) {
    if (s.count == 0) continue;
    out.push_back({rpm(s.n / s.count), absolute(PressureStep{s.m / s.count}),
                   gauge(PressureStep{s.p / s.count}), s.count});
  }
  return out;
}

void fit_to(System* s, std::span<const RailBin> bins, std::span<const Need> needs,
            const StrengthPrior& prior, const std::optional<TraceDraw>& draw) {
  EXPECTS(needs.size() >= 2 && prior.sd > 0);
  const PressureStep sensor = draw ? draw->sensor : PressureStep{0};
  const double setting = s->regulator.setting.si;
  System seen = *s;
  Cell c{prior.ln_middle, 0, 1};
  // Twice: what was injected depends on the setting that the pulses were made for.
  for (const bool last : {false, true}) {
    auto rows = rows_of(seen, bins, needs, sensor);
    if (rows.empty()) return;
    const Density density(std::move(rows), setting, prior);
    Window w{prior.ln_middle - 1.4, prior.ln_middle + 1.0, -0.25, 0.25};
    auto all = cells(density, w);
    for (int i = 0; i < 3; ++i) {
      w = narrower(all, w);
      all = cells(density, w);
    }
    c = draw && last ? drawn_of(all, *draw) : mean_of(all);
    seen.regulator.setting = PressureStep{(1 + c.share) * setting};
  }
  s->pump.strength = std::exp(c.ln_k);
  s->regulator.setting = seen.regulator.setting;
}

}  // namespace fuelwright::physics::supply
