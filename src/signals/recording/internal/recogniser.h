/// Recogniser: takes the columns of a scanned table one by one and decides what each measures, in
/// which unit.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "signals/recording/internal/behaviour.h"
#include "signals/recording/internal/column_unit.h"
#include "signals/recording/internal/scan.h"
#include "signals/recording/internal/trade_words.h"
#include "signals/recording/recording.h"

namespace fuelwright::signals {

/// A report, and per column of the report the unit and the column of the table it stands for.
struct Recognised {
  Report report;
  std::vector<std::optional<ColumnUnit>> units;  ///< [guess]
  std::vector<std::size_t> columns;              ///< [guess] index into CsvTable::columns
};

/// "a; b"; one of them if the other is empty.
std::string join(std::string a, const std::string& b);
/// Confidence that a column is nothing the work needs.
inline constexpr double kUnnamed = 0.5;
/// Confidence at most, where the name says nothing and only the unit does.
inline constexpr double kUnitAlone = 0.6;

/// One column while it is decided.
struct Work {
  const CsvColumn* column = nullptr;
  std::size_t index = 0;
  Stats stats;
  std::vector<NameGuess> candidates;
  std::string unit_text;  // given by brackets, by the units row, by the last word of the name or by
                          // an answer
  std::optional<ColumnUnit> unit;
  Guess guess;
  bool asked = false;
  bool by_unit = false;  // the name says nothing, only the unit does
};

/// Decides for all columns of a table together: what others lean on (speed, pressure, coolant)
/// comes first.
class Recogniser {
 public:
  Recogniser(const CsvTable& table, const Answers& answers) : table_(table), answers_(answers) {}

  Result<Recognised> run();

 private:
  const ChannelAnswer* answer(const Work& w) const;
  Status check_answers() const;
  // Name, unit as given, and what the values look like.
  void begin(std::size_t index);
  static void prefer_by_unit(Work& w);
  static void count_from_ambient(Work& w);
  // "CLT_degC", "speed_kmh", "time_ms": the last word may be the unit.
  static std::string last_word_unit(const Work& w);
  bool taken(Quantity what) const;
  // A name that says nothing, but a unit that does.
  void name_by_unit(Work& w);
  void be_other(Work& w, const std::string& why);
  // Nothing moves: such a column asks nothing and proves nothing.
  bool carries_nothing(const Work& w) const;
  Result<UnitChoice> choose_unit(Work& w);
  Status settle(Work& w);
  static void unit_of_other(Work& w);
  Status settle_other(Work& w);
  const Work* best(Quantity what) const;
  Column companion(Quantity what) const;
  Neighbours neighbours(const Work& own) const;
  void weigh_behaviour(Work& w);
  std::string where(const Work& w) const;
  // Values that cannot be: refused if the user said so, asked about if the work needs them, else
  // not named.
  Status check_range(Work& w);
  Status check_mixture(Work& w);
  static std::string limit(const ColumnUnit& unit, double si);
  // Two columns for one quantity that the work needs.
  void find_twins();
  // A weak guess about something the work needs, or two candidates of which one is needed.
  void ask_if_unsure(Work& w);
  static Option option(const Work& w, Quantity what, const std::string& unit);
  void ask(Work& w, const std::string& unclear, const std::vector<std::string>& units);
  Recognised finish();

  const CsvTable& table_;
  const Answers& answers_;
  std::vector<Work> work_;
  std::vector<Question> questions_;
  std::vector<std::string> warnings_;
};

Result<Recognised> recognise_table(const CsvTable& table, const Answers& answers);

}  // namespace fuelwright::signals
