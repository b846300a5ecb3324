// Rev limits, the overrun cut, and what the unit may correct by itself.
#include <fmt/format.h>

#include <cmath>

#include "advice/first_calibration/internal/making.h"
#include "car/build/derived.h"

namespace fuelwright::advice::internal {
namespace {

// Where torque times speed is largest; none if it still rises at the end of the curve.
std::optional<double> power_peak(const AirPrediction& a) {
  std::size_t best = 0;
  for (std::size_t i = 1; i < a.full_speed_rpm.size(); ++i) {
    if (a.full_torque_nm[i] * a.full_speed_rpm[i] >
        a.full_torque_nm[best] * a.full_speed_rpm[best]) {
      best = i;
    }
  }
  if (best + 1 == a.full_speed_rpm.size()) return std::nullopt;
  return a.full_speed_rpm[best];
}

double speed_at_piston(const car::Sheet& sheet, double m_per_s_mean) {
  return m_per_s_mean * 60 / (2 * sheet.engine.stroke.si());  // (build.3)
}

// The least of the wish, the mean piston speed of racing engines (25 m/s; 21 if the wish is only
// typical), and, if the wish is only typical, 8 % beyond the computed power peak.    (first.18)
void make_rev_limits(Making& m) {
  const auto& wish = m.sheet.wishes.rev_limit;
  const bool typical = wish.source == car::Source::typical;
  double hard = wish.si();
  std::string by = typical ? "typical of such engines" : "your wish";
  const double piston = speed_at_piston(m.sheet, typical ? 21 : 25);
  if (piston < hard) {
    hard = piston;
    by = fmt::format("a mean piston speed of {} m/s (common practice, no source)",
                     typical ? 21 : 25);
    if (!typical) {
      m.caution(
          fmt::format("Your rev limit of {:.0f} rpm would be {:.1f} m/s of mean piston speed, "
                      "beyond racing practice; {:.0f} rpm is set.",
                      wish.si(), 25 * wish.si() / piston, std::floor(piston / 50) * 50));
    }
  }
  const auto peak = power_peak(m.air);
  if (peak && typical && 1.08 * *peak < hard) {
    hard = 1.08 * *peak;
    by = fmt::format("8 % beyond the computed power peak at {:.0f} rpm: nothing is gained above",
                     *peak);
  }
  hard = std::max(std::floor(hard / 50) * 50, 2 * m.idle_rpm());
  m.put(car::SettingWhat::hard_rev_limit, hard,
        fmt::format("{}; {:.1f} m/s of mean piston speed.", by,
                    hard * 2 * m.sheet.engine.stroke.si() / 60));
  m.put(car::SettingWhat::soft_rev_limit, hard - 200,
        "200 rpm before the hard one, so that a shift is felt before it is cut.");
  const auto tappet = m.sheet.cam.tappet.value;
  const bool hydraulic =
      tappet == car::Tappet::hydraulic_flat || tappet == car::Tappet::hydraulic_roller;
  if (hydraulic && hard > 6500) {
    m.caution(
        "Hydraulic tappets pump up near 6500 rpm with usual springs (common practice, no "
        "source); make sure of yours before this limit is used.");
  }
  if (peak && !typical && wish.si() > 1.15 * *peak) {
    m.caution(
        fmt::format("Power is computed to fall from {:.0f} rpm on; revving to {:.0f} gains "
                    "nothing.",
                    *peak, hard));
  }
}

void make_overrun(Making& m) {
  const double idle = m.idle_rpm();
  const double resume = std::ceil(1.45 * idle / 50) * 50;
  const double idle_map = m.air.idle_map.from_zero.si;
  m.put(
      car::SettingWhat::overrun_resume, resume,
      "well above idle, so that fuel is back before the engine falls into it (common practice, no "
      "source).");
  m.put(car::SettingWhat::overrun_entry, resume + 400,
        "400 rpm above where fuel comes back, so that it does not switch to and fro.");
  m.put(car::SettingWhat::overrun_pressure, std::clamp(0.70 * idle_map, 18e3, 45e3),
        fmt::format("below what the engine needs to idle ({:.0f} kPa): only a car that drives its "
                    "engine pulls so much.",
                    idle_map / 1e3));
  m.put(car::SettingWhat::overrun_throttle, 0.02, "the pedal is up.");
  m.put(car::SettingWhat::overrun_delay, 0.5,
        "so that a shift does not count (common practice, no source).");
}

struct NearOne {
  double half = 0;  // widest 95 % half-width among nodes where the loop would work
  int nodes = 0;
};

NearOne nodes_near_one(const Making& m, double richest, double leanest, double highest_pa) {
  const car::Surface& target = m.out.calibration.tables.at(car::TableWhat::lambda_target);
  const car::Origin& ve = m.out.calibration.origins.at(car::TableWhat::ve);
  NearOne out;
  double sum = 0;
  for (std::size_t i = 0; i < target.values.size(); ++i) {
    if (target.values[i] < richest || target.values[i] > leanest) continue;
    if (m.air.map_pa[i] > highest_pa || m.air.reachable[i] < kBurns) continue;
    sum += ve.half_width[i] * ve.half_width[i];
    ++out.nodes;
  }
  if (out.nodes > 0) out.half = std::sqrt(sum / out.nodes);
  return out;
}

// add = half-width + 5 %, 8..25 %; take = 0.6 add: a sensor that fails reads lean or rich, and a
// loop that takes fuel away can hurt an engine, one that adds it cannot soon.        (first.19)
void make_closed_loop(Making& m) {
  constexpr double kRichest = 0.95;
  constexpr double kLeanest = 1.05;
  const double highest = 0.72 * m.ambient_pa();
  const NearOne near = nodes_near_one(m, kRichest, kLeanest, highest);
  const bool sensor = !m.sheet.sensors.mixture.empty();
  const bool works = sensor && near.nodes > 0;
  const double add = works ? std::clamp(near.half + 0.05, 0.08, 0.25) : 0;
  const std::string why =
      works ? fmt::format(
                  "the prediction is known to \xC2\xB1{:.0f} % where it works, and 5 % for sensor "
                  "and fuel",
                  100 * near.half)
      : !sensor ? std::string("the sheet has no mixture sensor")
                : std::string("no target lies near lambda 1");
  m.put(car::SettingWhat::closed_loop_add, add, why + ".");
  m.put(car::SettingWhat::closed_loop_take, 0.6 * add,
        works ? "less than it may add, because too lean is the side that hurts." : why + ".");
  m.put(car::SettingWhat::closed_loop_richest, kRichest,
        "a sensor is surest near lambda 1; richer targets are left to the table.");
  m.put(car::SettingWhat::closed_loop_leanest, kLeanest,
        "a sensor is surest near lambda 1; leaner targets are left to the table.");
  m.put(car::SettingWhat::closed_loop_pressure, highest,
        "below where the mixture begins to rise to full throttle.");
  m.put(car::SettingWhat::closed_loop_coolant, celsius(60).from_zero.si,
        "warm-up fuel has nearly gone by then.");
}

}  // namespace

void make_limits(Making& m) {
  make_rev_limits(m);
  make_overrun(m);
  make_closed_loop(m);
}

}  // namespace fuelwright::advice::internal
