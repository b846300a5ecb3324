// VE and mixture targets on the user's axes, breakpoints, and the charge-temperature curve.
#include <fmt/format.h>

#include <cmath>

#include "advice/first_calibration/internal/making.h"

namespace fuelwright::advice::internal {
namespace {

constexpr double kTo95 = 1.959964;
constexpr double kKnown = 0.10;        // half-width up to which the mean itself is taken
constexpr double kMostRich = 0.10;     // most that a doubtful node is raised
constexpr double kRichUnknown = 0.05;  // over a value carried down to a node that does not burn

double half_width(double sd_log) { return std::expm1(kTo95 * sd_log); }

// Half of what the half-width exceeds 10 % by, at most 10 %.                          (first.6)
double rich_by(double half) { return std::clamp(0.5 * (half - kKnown), 0.0, kMostRich); }

struct Counts {
  std::size_t carried = 0;
  std::size_t raised = 0;
};

// A node's VE, and its half-width.
std::pair<double, double> ve_at(const AirPrediction& air, std::size_t ix, std::size_t iy,
                                Counts& counts) {
  const std::size_t node = air.grid.index(ix, iy);
  constexpr double kWhollyUnknown = 0.30;
  if (air.reachable[node] >= kBurns) {
    const double half = half_width(air.sd_log[node]);
    const double rich = rich_by(half);
    if (rich > 0) ++counts.raised;
    return {air.ve[node] * (1 + rich), half};
  }
  ++counts.carried;
  if (const auto above = burning_above(air, ix, iy)) {
    // VE falls with the pressure, so the value from above lies on the rich side.
    const double v = air.ve[*above] * (1 + kRichUnknown);
    return {v, std::max(kWhollyUnknown, half_width(air.sd_log[*above]))};
  }
  return {0.80, 0.5};  // no load burns at this speed: the level of an average engine
}

std::string ve_reason(const Counts& counts, std::size_t nodes) {
  std::string out = "computed from the parts, the mean of the ensemble";
  if (counts.raised > 0) {
    out += fmt::format(
        "; {} of {} nodes that are known to no better than 10 % are raised by half "
        "of the rest, up to 10 %, because rich is the safe side",
        counts.raised, nodes);
  }
  if (counts.carried > 0) {
    out += fmt::format(
        "; {} nodes where the burnt gas left over keeps it from burning cannot be "
        "computed and have the value of the next load above, 5 % rich",
        counts.carried);
  }
  return out + ".";
}

}  // namespace

void make_ve(Making& m) {
  const car::Grid& grid = m.air.grid;
  car::Surface ve = car::Surface::flat(grid, 0);
  std::vector<double> half(grid.size());
  Counts counts;
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      const auto [v, h] = ve_at(m.air, ix, iy, counts);
      const car::Limits limits = car::limits_of(car::TableWhat::ve);
      ve.node(ix, iy) = std::clamp(v, limits.lowest, limits.highest);
      half[grid.index(ix, iy)] = h;
    }
  }
  m.put(car::TableWhat::ve, std::move(ve), ve_reason(counts, grid.size()), std::move(half));
  if (counts.carried > 0) {
    m.caution(
        "Idle and light loads where this cam leaves too much burnt gas are a safe start, not a "
        "prediction: they are rich, and the first warm idle must correct them.");
  }
}

// idle, cruise and full throttle blended without corners:
//   lambda = (idle s_i + cruise (1 - s_i)) (1 - s_f) + full s_f                        (first.7)
void make_mixture(Making& m) {
  const car::Grid& grid = m.air.grid;
  const car::Wishes& w = m.sheet.wishes;
  car::Surface out = car::Surface::flat(grid, 0);
  bool boosted = false;
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      const std::size_t node = grid.index(ix, iy);
      const double idle = idle_share(m, grid.x[ix], m.air.map_pa[node]);
      const double full = full_share(m.load(node));
      const double part = w.idle_mixture.si() * idle + w.cruise_mixture.si() * (1 - idle);
      const double lambda = part * (1 - full) + w.full_throttle_mixture.si() * full;
      // Three decimals, as units take them, to the rich side.
      out.node(ix, iy) = std::floor(1000 * lambda + 1e-9) / 1000;
      boosted = boosted || m.load(node) > 1.05;
    }
  }
  const auto said = [&](const car::Known<car::Lambda>& k) {
    return car::format(k.value, w.scale.value);
  };
  m.put(car::TableWhat::lambda_target, std::move(out),
        fmt::format("your wishes, blended: idle {}, cruise {}, full throttle {} from 88 % of the "
                    "ambient pressure ({}), rising from 75 %.",
                    said(w.idle_mixture), said(w.cruise_mixture), said(w.full_throttle_mixture),
                    format(0.88 * m.ambient_pa(), Kind::absolute_pressure, UnitSystem::metric, 3)));
  if (boosted) {
    m.caution(
        "The table reaches above ambient pressure; the full-throttle wish is used there too, "
        "and boost usually wants it richer.");
  }
}

// The table's VE stands for the intake air of the prediction; the unit's gas law gives 1/T, the
// engine T^-n:  factor = (T/T_ref)^(1 - n)                                              (first.8)
void make_charge_temperature(Making& m) {
  const double reference = m.air.intake_air.from_zero.si;
  const double n = m.air.charge_exponent;
  std::vector<double> points;
  std::vector<double> values;
  for (const double c : {-30.0, -10.0, 0.0, 10.0, 20.0, 30.0, 45.0, 60.0, 80.0}) {
    points.push_back(celsius(c).from_zero.si);
    values.push_back(std::pow(points.back() / reference, 1 - n));
  }
  m.put(car::CurveWhat::charge_temperature, points, values,
        fmt::format(
            "warm walls take back part of what colder air brings: the air taken in goes "
            "with temperature to the power -{:.2f} \xC2\xB1{:.2f}, the unit's gas law with -1.",
            n, kTo95 * m.air.charge_exponent_sd));
  m.put(car::SettingWhat::charge_temperature_reference, reference,
        "the intake air for which VE was computed.");
}

// Where a street car is driven: most at idle and cruise, some at full throttle, a little anywhere.
void make_axes(Making& m) {
  const auto& fine = m.air.fine_ve;
  const car::Grid& present = m.air.grid;
  if (!fine || present.x.size() < 2 || present.y.size() < 2) return;
  if (fine->grid.y.kind() != present.y.kind()) return;
  const double idle_map = m.air.idle_map.from_zero.si;
  const double peak = m.air.full_speed_rpm.back();
  const auto load_of = [&](double y) {
    switch (fine->grid.y.kind()) {
      case car::AxisKind::vacuum:
        return 1 - y / m.ambient_pa();
      case car::AxisKind::throttle:
        return y;
      default:
        return y / m.ambient_pa();
    }
  };
  std::vector<double> weights(fine->grid.size());
  const auto bump = [](double x, double at, double width) {
    return std::exp(-0.5 * (x - at) * (x - at) / (width * width));
  };
  for (std::size_t iy = 0; iy < fine->grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < fine->grid.x.size(); ++ix) {
      const double n = fine->grid.x[ix];
      const double load = load_of(fine->grid.y[iy]);
      double w = 0.02;
      w += 3 * bump(n, m.idle_rpm(), 150) * bump(load, idle_map / m.ambient_pa(), 0.08);
      w += bump(n, 0.38 * peak, 0.14 * peak) * bump(load, 0.5, 0.15);
      w += 0.5 * smooth_step(0.3 * peak, 0.5 * peak, n) * smooth_step(0.8, 0.95, load);
      weights[fine->grid.index(ix, iy)] = w;
    }
  }
  std::optional<std::pair<double, double>> idle;
  if (present.x.size() > 2 && present.y.size() > 2) {
    const double y =
        fine->grid.y.kind() == car::AxisKind::vacuum ? m.ambient_pa() - idle_map : idle_map;
    if (fine->grid.y.kind() != car::AxisKind::throttle) idle = {m.idle_rpm(), y};
  }
  ProposedAxes axes = propose_breakpoints(*fine, weights, present, idle);
  m.out.lines.push_back(fmt::format(
      "breakpoints: reading between nodes loses {:.1f} % rms where the car is driven on your axes "
      "(worst {:.1f} %), {:.1f} % on the proposed ones (worst {:.1f} %), with as many nodes.",
      100 * axes.present_loss, 100 * axes.present_worst, 100 * axes.loss, 100 * axes.worst));
  if (axes.loss < axes.present_loss) m.out.axes = std::move(axes);
}

}  // namespace fuelwright::advice::internal
