#include "car/fuel/fuel.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <optional>

#include "base/units/number.h"

namespace fuelwright::car {
namespace {

constexpr double kMixSlack = 1e-6;

Fuel pure(std::string name, Composition composition, Density density, double tolerance, double ron,
          double ron_tolerance) {
  auto afr = stoichiometric_afr(composition);
  EXPECTS(afr.ok());
  return {std::move(name), composition, density, *afr, tolerance, ron, ron_tolerance};
}

Status check_shares(const std::string& name, const std::vector<Part>& parts) {
  double sum = 0;
  for (const Part& part : parts) {
    if (!(part.share >= 0)) {
      return Error{ErrorCode::out_of_range, name,
                   fmt::format("share of {} is {}, expected 0 to 1", part.fuel.name, part.share)};
    }
    sum += part.share;
  }
  if (!(std::abs(sum - 1.0) <= kMixSlack)) {
    return Error{ErrorCode::out_of_range, name,
                 fmt::format("shares add up to {}, expected 1", sum)};
  }
  return Done{};
}

// Molecules per gram, for the octane of a blend. A mean petrol molecule weighs about 100 g/mol
// (from memory).
double mol_per_g(const Fuel& fuel) {
  constexpr double kPetrol_g_mol = 100.0;
  constexpr double kMethanol_g_mol = 32.042;
  constexpr double kEthanol_g_mol = 46.069;
  if (fuel.name == "ethanol") return 1 / kEthanol_g_mol;
  if (fuel.name == "methanol") return 1 / kMethanol_g_mol;
  return 1 / kPetrol_g_mol;
}

std::string squeezed(std::string_view text) {
  std::string out;
  for (const char c : text) {
    if (c == ' ' || c == '-' || c == '_' || c == '\t') continue;
    out += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  }
  return out;
}

// "e10" -> 10, with the letter asked for; nothing if it is no such name.
std::optional<double> percent_after(const std::string& name, char letter) {
  if (name.size() < 2 || name[0] != letter) return std::nullopt;
  std::string digits = name.substr(1);
  if (digits.back() == '%') digits.pop_back();
  for (const char c : digits) {
    if (std::isdigit(static_cast<unsigned char>(c)) == 0 && c != '.') return std::nullopt;
  }
  return parse_double(digits);
}

// What the same name means from pump to pump, as a share of the ratio: petrols lie between 14.4
// and 14.75, and "E85" is sold with 51 to 83 % ethanol over the year (from memory).
double pump_spread(char letter, double percent) {
  constexpr double kPetrol = 0.010;
  constexpr double kHighBlend = 0.06;
  constexpr double kPure = 0.005;
  if (percent >= 99) return kPure;
  return letter == 'e' && percent > 50 && percent < 90 ? kHighBlend : kPetrol;
}

Result<Fuel> alcohol_blend(char letter, double percent, std::string_view whole) {
  if (percent > 100) {
    return Error{ErrorCode::out_of_range, "",
                 fmt::format("\"{}\" would hold {} % alcohol, expected 0 to 100", whole, percent)};
  }
  const Fuel& alcohol = letter == 'e' ? ethanol() : methanol();
  if (percent == 0) return petrol();
  if (percent == 100) return alcohol;
  const std::string name = fmt::format("{}{}", letter == 'e' ? 'E' : 'M', percent);
  FW_TRY(Fuel out,
         blend_by_volume(name, {{petrol(), 1 - percent / 100}, {alcohol, percent / 100}}));
  out.stoichiometric_tolerance = pump_spread(letter, percent) * out.stoichiometric_afr;
  constexpr double kLowBlend =
      20;  // up to here refiners lower the petrol so that the pump's octane stays
  if (percent <= kLowBlend) out.octane_ron = petrol().octane_ron;
  return out;
}

}  // namespace

const Fuel& petrol() {
  static const Fuel fuel =
      pure("petrol", from_formula(1, 1.87, 0), 0.745 * kg_per_litre, 0.146, 95, 4);
  return fuel;
}

const Fuel& ethanol() {
  static const Fuel fuel =
      pure("ethanol", from_formula(2, 6, 1), 0.789 * kg_per_litre, 0.045, 109, 2);
  return fuel;
}

const Fuel& methanol() {
  static const Fuel fuel =
      pure("methanol", from_formula(1, 4, 1), 0.792 * kg_per_litre, 0.032, 109, 3);
  return fuel;
}

Result<Fuel> blend_by_mass(std::string name, const std::vector<Part>& parts) {
  FW_CHECK(check_shares(name, parts));
  Fuel out;
  out.name = std::move(name);
  double volume = 0;
  double mol = 0;
  for (const auto& [fuel, w] : parts) {
    out.composition.carbon += w * fuel.composition.carbon;
    out.composition.hydrogen += w * fuel.composition.hydrogen;
    out.composition.oxygen += w * fuel.composition.oxygen;
    out.stoichiometric_tolerance += w * fuel.stoichiometric_tolerance;
    out.octane_tolerance += w * fuel.octane_tolerance;
    out.octane_ron += w * mol_per_g(fuel) * fuel.octane_ron;
    mol += w * mol_per_g(fuel);
    volume += w / fuel.density.si;
  }
  out.octane_ron /= mol;
  out.density = Density{1 / volume};                                    // (fuel.2)
  FW_TRY(out.stoichiometric_afr, stoichiometric_afr(out.composition));  // (fuel.2)
  return out;
}

Result<Fuel> blend_by_volume(std::string name, const std::vector<Part>& parts) {
  FW_CHECK(check_shares(name, parts));
  double mass = 0;
  for (const Part& part : parts) mass += part.share * part.fuel.density.si;
  std::vector<Part> by_mass = parts;
  for (Part& part : by_mass) part.share = part.share * part.fuel.density.si / mass;  // (fuel.3)
  return blend_by_mass(std::move(name), by_mass);
}

const char* fuel_names() { return "petrol, E10, E85, E<percent>, ethanol, methanol, M<percent>"; }

Result<Fuel> fuel_named(std::string_view name) {
  const std::string word = squeezed(name);
  for (const char* alias : {"petrol", "gasoline", "gas", "benzin", "pumpgas", "pumppetrol"}) {
    if (word == alias) return petrol();
  }
  if (word == "ethanol" || word == "alcohol") return ethanol();
  if (word == "methanol") return methanol();
  for (const char letter : {'e', 'm'}) {
    if (const auto percent = percent_after(word, letter)) {
      return alcohol_blend(letter, *percent, name);
    }
  }
  std::string hint;
  if (const auto near =
          nearest(word, {"petrol", "gasoline", "E10", "E85", "ethanol", "methanol"})) {
    hint = fmt::format("; did you mean \"{}\"?", *near);
  }
  return Error{ErrorCode::bad_input, "",
               fmt::format("unknown fuel \"{}\" (known: {}){}", name, fuel_names(), hint)};
}

}  // namespace fuelwright::car
