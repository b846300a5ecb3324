#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/units/number.h"
#include "signals/recording/internal/kind.h"
#include "signals/recording/internal/read_table.h"
#include "signals/recording/internal/recogniser.h"

namespace fuelwright::signals {

using Q = Quantity;

namespace {

constexpr double kClockReading = 0.93;
// A candidate this much behind the first is no rival of it.
constexpr double kNearby = 0.05;

}  // namespace

std::string join(std::string a, const std::string& b) {
  if (b.empty()) return a;
  return a.empty() ? b : std::move(a) + "; " + b;
}

Result<Recognised> Recogniser::run() {
  FW_CHECK(check_answers());
  for (std::size_t i = 0; i < table_.columns.size(); ++i) {
    if (!table_.columns[i].text) begin(i);
  }
  for (Work& w : work_) name_by_unit(w);
  // What others lean on comes first: the unit of air flow needs speed and pressure, of intake air
  // the coolant.
  for (const bool first : {true, false}) {
    for (Work& w : work_) {
      const bool leads = w.guess.what == Q::rpm || w.guess.what == Q::map ||
                         w.guess.what == Q::coolant || w.guess.what == Q::throttle ||
                         w.guess.what == Q::speed || w.guess.what == Q::engine_load;
      if (leads == first) FW_CHECK(settle(w));
    }
  }
  for (Work& w : work_) weigh_behaviour(w);
  for (Work& w : work_) FW_CHECK(check_range(w));
  find_twins();
  for (Work& w : work_) ask_if_unsure(w);
  return finish();
}

const ChannelAnswer* Recogniser::answer(const Work& w) const {
  const auto it = answers_.channels.find(w.guess.header);
  return it == answers_.channels.end() ? nullptr : &it->second;
}

Status Recogniser::check_answers() const {
  std::vector<std::string> headers;
  headers.reserve(table_.columns.size());
  for (const CsvColumn& c : table_.columns) headers.push_back(c.header);
  for (const auto& [header, answer] : answers_.channels) {
    if (std::ranges::find(headers, header) != headers.end()) continue;
    const auto near = nearest(header, headers);
    return Error{ErrorCode::not_found, table_.name,
                 fmt::format("an answer names the column \"{}\", which is not there{}", header,
                             near ? fmt::format("; did you mean \"{}\"?", *near) : "")};
  }
  return Done{};
}

void Recogniser::begin(std::size_t index) {
  Work w;
  w.column = &table_.columns[index];
  w.index = index;
  w.stats = stats_of(w.column->value);
  w.guess.header = w.column->header;
  w.guess.unit_found = w.column->unit;
  w.guess.constant = w.stats.constant;
  w.unit_text = w.column->unit;
  w.candidates = guess_by_name(w.column->header);
  if (w.column->clock) {
    w.candidates.assign(1, {Q::time, kClockReading, 1, "its cells are clock readings"});
  }
  const ChannelAnswer* said = answer(w);
  if (said != nullptr && !said->unit.empty()) w.unit_text = said->unit;
  prefer_by_unit(w);
  if (said != nullptr && said->what) {
    w.guess.what = *said->what;
    w.guess.confidence = 1;
    w.guess.answered = true;
    w.guess.reason = "you said so";
  } else if (!w.candidates.empty()) {
    w.guess.what = w.candidates.front().what;
    w.guess.confidence = w.candidates.front().confidence;
    w.guess.reason = w.candidates.front().reason;
  }
  if (w.unit_text.empty()) w.unit_text = last_word_unit(w);
  if (said == nullptr || said->unit.empty()) count_from_ambient(w);
  const Q q = w.guess.what;
  if (q == Q::short_trim || q == Q::long_trim || q == Q::lambda || q == Q::correction ||
      q == Q::oxygen_voltage) {
    w.guess.bank = bank_of(w.guess.header);
  }
  work_.push_back(std::move(w));
}

// Of several candidates only those stay whose unit the given one can be: "injector" in % is its
// duty, in ms its pulse width.
void Recogniser::prefer_by_unit(Work& w) {
  if (w.unit_text.empty()) return;
  std::vector<NameGuess> fitting;
  std::ranges::copy_if(w.candidates, std::back_inserter(fitting), [&](const NameGuess& c) {
    return c.what == Q::other || is_unit_of(c.what, w.unit_text);
  });
  if (fitting.empty() || fitting.size() == w.candidates.size()) return;
  if (fitting.front().confidence + kNearby < w.candidates.front().confidence) return;
  w.candidates = std::move(fitting);
  w.candidates.front().reason +=
      fmt::format("; of its meanings only this one has the unit {}", w.unit_text);
  w.candidates.front().confidence = std::max(w.candidates.front().confidence, kSure);
}

// "Vacuum (inHg)" counts down from the ambient pressure, or up to it where the numbers are
// negative.
void Recogniser::count_from_ambient(Work& w) {
  if (w.guess.what != Q::map || w.unit_text.empty() || !names_vacuum(w.guess.header)) return;
  if (w.unit_text.find(' ') != std::string::npos) return;  // it says so itself
  w.unit_text += w.stats.mid < 0 ? " gauge" : " vacuum";
}

std::string Recogniser::last_word_unit(const Work& w) {
  const std::string& h = w.guess.header;
  const auto cut = h.find_last_of("_ -");
  if (cut == std::string::npos || cut == 0 || cut + 1 >= h.size()) return "";
  const std::string word = h.substr(cut + 1);
  const Kind kind = info(w.guess.what).kind;
  if (kind == Kind::engine_speed) return "";
  if (kind == Kind::ratio || kind == Kind::count) {
    return word == "pct" || word == "percent" || word == "%" ? "%" : "";
  }
  return find_unit(word, kind) ? word : "";
}

bool Recogniser::taken(Q what) const {
  return std::ranges::any_of(
      work_, [&](const Work& w) { return w.guess.what == what && w.guess.confidence >= kSure; });
}

void Recogniser::name_by_unit(Work& w) {
  if (w.guess.answered || !w.candidates.empty() || w.unit_text.empty() || w.stats.constant) return;
  for (const Q q : {Q::rpm, Q::map, Q::maf, Q::coolant, Q::intake_air, Q::lambda}) {
    if (taken(q) || !is_unit_of(q, w.unit_text)) continue;
    w.candidates.push_back(
        {q, kUnitAlone, 1, fmt::format("the unit {} allows {}", w.unit_text, info(q).label)});
  }
  if (w.candidates.empty()) return;
  w.by_unit = true;
  w.guess.what = w.candidates.front().what;
  w.guess.confidence = w.candidates.front().confidence;
  w.guess.reason = w.candidates.front().reason;
}

void Recogniser::be_other(Work& w, const std::string& why) {
  w.guess.what = Q::other;
  w.guess.confidence = kUnnamed;
  w.guess.reason = join(w.guess.reason, why);
  w.guess.unit.clear();
  w.unit.reset();
  unit_of_other(w);
}

// A column that is nothing known keeps its unit, if that can mean one thing only.
void Recogniser::unit_of_other(Work& w) {
  if (w.unit_text.empty()) return;
  const auto units = find_units(w.unit_text);
  if (units.size() != 1) return;
  w.unit = ColumnUnit{units[0].symbol, units[0].factor, units[0].offset};
  w.guess.unit = units[0].symbol;
}

bool Recogniser::carries_nothing(const Work& w) const {
  if (w.stats.filled == 0) return true;
  if (!w.stats.constant || w.guess.answered) return false;
  return w.stats.lowest == 0 || !info(w.guess.what).needed;
}

Result<UnitChoice> Recogniser::choose_unit(Work& w) {
  const Q q = w.guess.what;
  if (w.column->day_order_unclear && w.unit_text != kDayFirst && w.unit_text != kMonthFirst) {
    UnitChoice choice;
    choice.unclear =
        "its dates may begin with the day or with the month, and the time between "
        "them differs";
    choice.options = {std::string(kDayFirst), std::string(kMonthFirst)};
    return choice;
  }
  if (q == Q::map && w.unit_text.empty() && names_vacuum(w.guess.header)) {
    UnitChoice choice;
    choice.unclear = "it gives no unit, and a vacuum counts down from the ambient pressure";
    choice.options = {"inHg vacuum", "kPa vacuum"};
    return choice;
  }
  if (carries_nothing(w)) {
    UnitChoice choice;
    const auto unit = unit_of(q, w.unit_text.empty() ? info(q).unit : w.unit_text, answers_);
    if (unit) choice.unit = *unit;
    if (!unit) be_other(w, "its unit is not known");
    if (q == Q::commanded_ratio) {
      choice.reason = "SAE J1979 calls it fuel-air, yet it behaves as lambda";
    }
    return choice;
  }
  if (w.unit_text.empty()) return choose_by_range(q, w.stats, neighbours(w), answers_);
  const ChannelAnswer* said = answer(w);
  if (said != nullptr && !said->unit.empty()) {
    const auto unit = unit_of(q, said->unit, answers_);
    if (!unit && unit.error().code != ErrorCode::needs_answer) {
      return Error{unit.error().code, where(w), unit.error().message};
    }
  }
  return choose_given(q, w.unit_text, w.stats, answers_);
}

Status Recogniser::settle(Work& w) {
  const Q q = w.guess.what;
  if (w.stats.filled == 0) {
    w.guess.reason = join(w.guess.reason, "empty: carries nothing");
  } else if (w.stats.constant) {
    w.guess.reason = join(
        w.guess.reason, fmt::format("constant {:.6g}: carries nothing that moves", w.stats.lowest));
  }
  if (q == Q::other) return settle_other(w);
  FW_TRY(const UnitChoice choice, choose_unit(w));
  w.guess.reason = join(w.guess.reason, choice.reason);
  if (choice.unit) {
    w.unit = choice.unit;
    w.guess.unit = choice.unit->text;
    w.guess.confidence = 1 - (1 - w.guess.confidence) * choice.doubt;
  } else if (!choice.unclear.empty()) {
    if (info(q).needed || w.guess.answered || (q == Q::time && w.guess.confidence >= kSure)) {
      ask(w, choice.unclear, choice.options);
    } else {
      be_other(w, choice.unclear);
    }
  }
  return Done{};
}

Status Recogniser::settle_other(Work& w) {
  if (w.candidates.empty() && !w.guess.answered) {
    w.guess.reason = join("the name says nothing known", w.guess.reason);
    w.guess.confidence = kUnnamed;
  }
  unit_of_other(w);
  return Done{};
}

Neighbours Recogniser::neighbours(const Work& own) const {
  Neighbours near;
  near.named_equivalence = own.guess.what == Q::lambda && names_equivalence(own.guess.header);
  near.j1979 = std::ranges::any_of(work_, [](const Work& w) {
    const bool trim = w.guess.what == Q::short_trim || w.guess.what == Q::long_trim;
    return w.stats.j1979_percent || (trim && w.stats.j1979_trim);
  });
  if (const Work* c = best(Q::coolant); c != nullptr) {
    near.temperature_unit = c->unit->text;
    near.temperature_header = c->guess.header;
  }
  const Work* rpm = best(Q::rpm);
  const Work* map = best(Q::map);
  if (own.guess.what != Q::maf || rpm == nullptr || map == nullptr) return near;
  std::vector<double> product;
  const std::size_t stride = table_.rows / 20000 + 1;
  for (std::size_t i = 0; i < table_.rows; i += stride) {
    const double p = rpm->column->value[i] * map->unit->si(map->column->value[i]);
    if (p > 0 && own.column->value[i] > 0) product.push_back(p);
  }
  if (product.size() < 50) return near;
  std::ranges::nth_element(product,
                           product.begin() + static_cast<std::ptrdiff_t>(product.size() / 2));
  near.air_per_flow = product[product.size() / 2];
  return near;
}

std::string Recogniser::where(const Work& w) const {
  return fmt::format("{}: \"{}\"", table_.name, w.guess.header);
}

Recognised Recogniser::finish() {
  Recognised out;
  Report& r = out.report;
  r.name = table_.name;
  r.kind = kind_of(table_);
  r.rows = table_.rows;
  r.separator = table_.separator;
  r.decimal_comma = table_.decimal_comma;
  r.warnings = table_.warnings;
  r.warnings.insert(r.warnings.end(), warnings_.begin(), warnings_.end());
  bool rpm = false;
  for (Work& w : work_) {
    if (w.guess.what == Q::speed && w.unit_text.empty() && !w.stats.constant) {
      r.warnings.push_back(
          fmt::format("\"{0}\" gives no unit and was read in km/h, as SAE J1979 scales it; if it "
                      "is mph, give --channel \"{0}=speed:mph\"",
                      w.guess.header));
    }
    rpm = rpm || w.guess.what == Q::rpm;
    r.columns.push_back(std::move(w.guess));
    out.units.push_back(std::move(w.unit));
    out.columns.push_back(w.index);
  }
  if (!rpm) r.warnings.emplace_back("no column of engine speed was found");
  r.questions = std::move(questions_);
  return out;
}

Result<Recognised> recognise_table(const CsvTable& table, const Answers& answers) {
  return Recogniser(table, answers).run();
}

Result<Report> recognise(std::string_view bytes, std::string_view name, const Answers& answers) {
  FW_TRY(const CsvTable table, read_table(bytes, name, answers));
  FW_TRY(Recognised found, recognise_table(table, answers));
  return std::move(found.report);
}

}  // namespace fuelwright::signals
