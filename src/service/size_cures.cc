// What would cure a shortage, what is worth measuring, in words.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "service/size_words.h"

namespace fuelwright::service {
namespace {

using namespace physics::supply;

// The thinnest American gauge that is not thinner (ASTM B258, from memory: 0.127 mm at 36, 92 to
// the power of 1/39 a gauge).
int gauge_of(double area_m2) {
  const double d_mm = std::sqrt(4 * area_m2 * 1e6 / 3.14159265358979);
  return static_cast<int>(std::floor(36 - 39 * std::log(d_mm / 0.127) / std::log(92.0) + 1e-6));
}

class Words {
 public:
  Words(const Cure& cure, const System& s, UnitSystem units) : c_(cure), s_(s), units_(units) {}

  std::string all() const {
    const std::string what = plain();
    if (c_.restores) return fmt::format("{}: leaves {:.0f} % in hand", what, 100 * c_.margin);
    return fmt::format("{}: not enough by itself ({:+.0f} %)", what, 100 * c_.margin);
  }

 private:
  bool us() const { return units_ == UnitSystem::us; }
  std::string value(double si, Kind kind) const { return format(si, kind, units_, 3); }
  // Pumps are rated in litres an hour everywhere.
  static std::string volume(double m3_s) { return fmt::format("{:.0f} l/h", m3_s * 3.6e6); }
  std::string pressure(double pa) const {
    return us() ? fmt::format("{:.1f} psi", pa / psi.factor) : fmt::format("{:.0f} kPa", pa / 1e3);
  }
  std::string area(double m2) const {
    const std::string metric = fmt::format("{:.1f} mm2", m2 * 1e6);
    return us() ? fmt::format("{} ({} AWG)", metric, gauge_of(m2)) : metric;
  }
  std::string bore(double m) const {
    const std::string metric = fmt::format("{:.1f} mm", m * 1e3);
    return us() ? fmt::format("{} ({:.2f} in)", metric, m / inch.factor) : metric;
  }
  std::string temperature(double k) const {
    return us() ? fmt::format("{:.0f} degF", in_fahrenheit(kelvin(k)))
                : fmt::format("{:.0f} degC", in_celsius(kelvin(k)));
  }
  std::string sold(const std::string& as_sold) const {
    return c_.sold_si > c_.to_si * 1.005 ? fmt::format("; sold: {}", as_sold) : "";
  }

  std::string plain() const {
    const double from = c_.from_si, to = c_.to_si;
    switch (c_.what) {
      case Change::injector_flow:
        return fmt::format("injectors of at least {} instead of {} at {}",
                           value(to, Kind::mass_flow), value(from, Kind::mass_flow),
                           pressure(s_.injectors.rated_pressure.si));
      case Change::odd_injectors:
        return fmt::format("the smaller injectors (down to {}) exchanged for such of {}",
                           value(from, Kind::mass_flow), value(to, Kind::mass_flow));
      case Change::regulator_pressure:
        return fmt::format("the regulator set to {} instead of {}", pressure(to), pressure(from));
      case Change::regulator_reference:
        return "the regulator's reference hose to the manifold instead of open air";
      case Change::pump_flow:
        return fmt::format("{} of at least {} instead of {} at {} and {:.1f} V",
                           s_.pump.count > 1 ? fmt::format("{} pumps, each", s_.pump.count)
                                             : std::string("a pump"),
                           volume(to), volume(from), pressure(s_.regulator.setting.si),
                           s_.pump.rated.si);
      case Change::wire_area:
        return fmt::format("feed and ground of the pump in {} instead of {}{}", area(to),
                           area(from), sold(area(c_.sold_si)));
      case Change::new_feed:
        return fmt::format("a feed of its own with a relay at the pump, in {} instead of {}{}",
                           area(to), area(from), sold(area(c_.sold_si)));
      case Change::charging_voltage:
        return fmt::format("{:.1f} V at the battery instead of {:.1f} V", to, from);
      case Change::hose_diameter:
        return fmt::format("a hose of {} bore instead of {}{}", bore(to), bore(from),
                           sold(bore(c_.sold_si)));
      case Change::filter:
        return fmt::format("a filter that loses at most {} at the pump's rated flow, instead of {}",
                           pressure(to), pressure(from));
      case Change::suction_diameter:
        return fmt::format("a suction hose of {} bore instead of {}{}", bore(to), bore(from),
                           sold(bore(c_.sold_si)));
      case Change::fuel_temperature:
        return fmt::format("fuel kept below {} in the tank instead of {}", temperature(to),
                           temperature(from));
      case Change::inlet_pressure:
        return fmt::format("a pump in front that adds {} at the main pump's inlet", pressure(to));
      case Change::lift_flow:
        return fmt::format("a lift pump of at least {} instead of {}", volume(to), volume(from));
    }
    broken_contract("a known change", __FILE__, __LINE__);
  }

  const Cure& c_;
  const System& s_;
  UnitSystem units_;
};

const char* task(Measurement what) {
  switch (what) {
    case Measurement::timed_delivery:
      return "Time the pump into a can, with the rail's pressure on the gauge";
    case Measurement::pump_volts:
      return "Read the volts at the pump while it runs at pressure and the engine charges";
    case Measurement::rail_trace:
      return "Record rail pressure in one pull at full throttle";
    case Measurement::injectors_flowed:
      return "Have every injector flowed on a bench";
    case Measurement::fuel_checked:
      return "Check what is in the tank: its alcohol and its density";
  }
  broken_contract("a known measurement", __FILE__, __LINE__);
}

}  // namespace

std::string words_of(const Cure& cure, const System& as_is, UnitSystem units) {
  return Words(cure, as_is, units).all();
}

std::string words_of(const Worth& w) {
  const auto whole = [](double share) { return std::lround(100 * share); };
  std::string out = fmt::format("{} (about {:.0f} min{}): ", task(w.what), w.takes.si / 60,
                                w.needs_pull ? ", on a closed road or a dynamometer" : "");
  out += whole(w.after) < whole(w.before)
             ? fmt::format("the margin is then known to \xC2\xB1{} % instead of \xC2\xB1{} %",
                           whole(w.after), whole(w.before))
             : fmt::format("the margin stays known to \xC2\xB1{} %", whole(w.before));
  if (whole(w.wrong_after) != whole(w.wrong_before)) {
    out += fmt::format("; a wrong answer in {} of 100 instead of {}", whole(w.wrong_after),
                       whole(w.wrong_before));
  }
  return out;
}

}  // namespace fuelwright::service
