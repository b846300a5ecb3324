// A Driving in pieces: cut out, and put together again.
#include <algorithm>

#include "advice/dynamic_estimate/driving.h"
#include "base/contract.h"

namespace fuelwright::advice {
namespace {

// Calls back with every column of two drivings.
template <class A, class B, class F>
void each_column(A& a, B& b, F&& f) {
  f(a.fuel_kg_s, b.fuel_kg_s);
  f(a.dead_kg_s2, b.dead_kg_s2);
  f(a.air_kg_s, b.air_kg_s);
  f(a.heating, b.heating);
  f(a.rpm, b.rpm);
  f(a.map_pa, b.map_pa);
  f(a.coolant_k, b.coolant_k);
  f(a.reading_ln, b.reading_ln);
  f(a.idle, b.idle);
  f(a.exhaust_pa, b.exhaust_pa);
  f(a.since_cut_s, b.since_cut_s);
  f(a.high_load_s, b.high_load_s);
  f(a.usable, b.usable);
  f(a.at, b.at);
}

void take_over_settings(const Driving& from, Driving& to) {
  to.fuel_from = from.fuel_from;
  to.step_s = from.step_s;
  to.stoichiometric = from.stoichiometric;
  to.sensor_share = from.sensor_share;
  to.bank_side = from.bank_side;
  to.weight = from.weight;
  to.heating_held = from.heating_held;
}

}  // namespace

Driving Driving::part(std::size_t first, std::size_t last) const {
  EXPECTS(first <= last && last <= rows());
  Driving out;
  take_over_settings(*this, out);
  out.law = law;
  out.law_level = law_level;
  out.law_spread = law_spread;
  each_column(*this, out, [&](const auto& from, auto& to) {
    to.assign(from.begin() + static_cast<std::ptrdiff_t>(first),
              from.begin() + static_cast<std::ptrdiff_t>(last));
  });
  for (const Stretch& s : stretches) {
    const std::size_t a = std::max(s.first, first);
    const std::size_t b = std::min(s.last, last);
    if (a >= b) continue;
    out.goes_on = out.goes_on || (a == first && s.first < first);
    out.stretches.push_back({a - first, b - first});
  }
  return out;
}

void Driving::append(const Driving& piece) {
  if (rows() == 0) take_over_settings(piece, *this);
  EXPECTS(fuel_from == piece.fuel_from && step_s == piece.step_s &&
          stoichiometric == piece.stoichiometric && sensor_share == piece.sensor_share);
  const std::size_t before = rows();
  each_column(piece, *this,
              [](const auto& from, auto& to) { to.insert(to.end(), from.begin(), from.end()); });
  for (std::size_t k = 0; k < piece.stretches.size(); ++k) {
    const Stretch s = piece.stretches[k];
    if (k == 0 && piece.goes_on) {
      EXPECTS(s.first == 0 && !stretches.empty() && stretches.back().last == before);
      stretches.back().last = before + s.last;
    } else {
      stretches.push_back({before + s.first, before + s.last});
    }
  }
  notes.insert(notes.end(), piece.notes.begin(), piece.notes.end());
  law = piece.law;
  law_level = piece.law_level;
  law_spread = piece.law_spread;
}

}  // namespace fuelwright::advice
