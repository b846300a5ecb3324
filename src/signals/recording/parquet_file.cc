// Numbers of fields and enums: parquet.thrift of the Apache Parquet format.
#include "signals/recording/internal/parquet_file.h"

#include <zstd.h>

#include <algorithm>
#include <new>

#include "base/contract.h"
#include "signals/recording/internal/parquet_pages.h"
#include "signals/recording/internal/thrift_compact.h"

namespace fuelwright::signals {
namespace {

constexpr const char* kMagic = "PAR1";
constexpr int kLevel = 3;  // of ZSTD

constexpr int kInt64 = 2, kFloat = 4, kDouble = 5, kByteArray = 6;  // Type
constexpr int kPlain = 0, kRle = 3, kRleDictionary = 8;             // Encoding
constexpr int kUtf8 = 0, kTimestampMicros = 10;                     // ConvertedType
constexpr int kDataPage = 0, kDictionaryPage = 2;                   // PageType
constexpr int kRequired = 0, kOptional = 1;                         // FieldRepetitionType
constexpr int kZstd = 6;                                            // CompressionCodec

int physical(ParquetType type) {
  switch (type) {
    case ParquetType::int64:
    case ParquetType::timestamp_us:
      return kInt64;
    case ParquetType::real:
      return kFloat;
    case ParquetType::wide_real:
      return kDouble;
    case ParquetType::text:
      return kByteArray;
  }
  broken_contract("a Parquet type", __FILE__, __LINE__);
}

std::string packed(const std::string& body) {
  std::string out(ZSTD_compressBound(body.size()), '\0');
  const std::size_t size = ZSTD_compress(out.data(), out.size(), body.data(), body.size(), kLevel);
  if (ZSTD_isError(size) != 0) throw std::bad_alloc();  // with room enough, nothing else can be
  out.resize(size);
  return out;
}

void write_schema(ThriftWriter& w, const std::vector<ParquetColumn>& columns) {
  w.begin_list(2, columns.size() + 1, ThriftWriter::kStruct);
  w.begin_struct();  // the root
  w.text(4, "recording");
  w.i32(5, static_cast<std::int32_t>(columns.size()));
  w.end_struct();
  for (const ParquetColumn& c : columns) {
    w.begin_struct();
    w.i32(1, physical(c.type));
    w.i32(3, c.optional ? kOptional : kRequired);
    w.text(4, c.name);
    if (c.type == ParquetType::text) {
      w.i32(6, kUtf8);
      w.begin_struct(10);  // LogicalType
      w.begin_struct(1);   // STRING
      w.end_struct();
      w.end_struct();
    } else if (c.type == ParquetType::timestamp_us) {
      w.i32(6, kTimestampMicros);
      w.begin_struct(10);
      w.begin_struct(8);   // TIMESTAMP
      w.boolean(1, true);  // isAdjustedToUTC
      w.begin_struct(2);
      w.begin_struct(2);  // MICROS
      w.end_struct();
      w.end_struct();
      w.end_struct();
      w.end_struct();
    }
    w.end_struct();
  }
}

}  // namespace

ParquetFile::ParquetFile(std::vector<ParquetColumn> columns)
    : columns_(std::move(columns)), out_(kMagic) {
  EXPECTS(!columns_.empty());
}

void ParquetFile::begin_group(std::size_t rows, std::optional<std::size_t> sorted_by) {
  EXPECTS(groups_.empty() || groups_.back().chunks.size() == columns_.size());
  groups_.push_back({static_cast<std::int64_t>(rows), sorted_by, {}});
}

void ParquetFile::page(Chunk& chunk, const std::string& body, std::int32_t values, bool dictionary,
                       bool by_number) {
  const std::string bytes = packed(body);
  ThriftWriter w;
  w.i32(1, dictionary ? kDictionaryPage : kDataPage);
  w.i32(2, static_cast<std::int32_t>(body.size()));
  w.i32(3, static_cast<std::int32_t>(bytes.size()));
  w.begin_struct(dictionary ? 7 : 5);
  w.i32(1, values);
  w.i32(2, by_number ? kRleDictionary : kPlain);
  if (!dictionary) {
    w.i32(3, kRle);
    w.i32(4, kRle);
  }
  w.end_struct();
  const std::string header = w.finish();
  const auto at = static_cast<std::int64_t>(out_.size());
  if (dictionary) {
    chunk.dictionary_page = at;
  } else {
    chunk.data_page = at;
  }
  chunk.plain_bytes += static_cast<std::int64_t>(header.size() + body.size());
  chunk.packed_bytes += static_cast<std::int64_t>(header.size() + bytes.size());
  out_ += header + bytes;
}

void ParquetFile::add(const ParquetCells& cells) {
  EXPECTS(!groups_.empty() && groups_.back().chunks.size() < columns_.size());
  Group& group = groups_.back();
  const ParquetColumn& column = columns_[group.chunks.size()];
  const auto rows = static_cast<std::size_t>(group.rows);
  EXPECTS(cells.present.empty() || (column.optional && cells.present.size() == rows));
  PlainValues v = std::visit([](const auto& values) { return plain_values(values); }, cells.values);
  const std::size_t filled = std::visit([](const auto& x) { return x.size(); }, cells.values);
  const auto there =
      cells.present.empty() ? rows : static_cast<std::size_t>(std::ranges::count(cells.present, 1));
  EXPECTS(filled == there);
  Chunk chunk;
  chunk.first_page = static_cast<std::int64_t>(out_.size());
  chunk.values = group.rows;
  chunk.gaps = group.rows - static_cast<std::int64_t>(filled);
  chunk.range = v.range;
  if (v.dictionary) {
    page(chunk, v.dictionary->words, static_cast<std::int32_t>(v.dictionary->count), true, false);
  }
  const std::string body =
      column.optional ? with_levels(cells.present, rows, v.body) : std::move(v.body);
  page(chunk, body, static_cast<std::int32_t>(rows), false, v.dictionary.has_value());
  group.chunks.push_back(std::move(chunk));
}

namespace {

void write_encodings(ThriftWriter& w, bool dictionary) {
  w.begin_list(2, dictionary ? 3 : 2, ThriftWriter::kI32);
  w.element(kPlain);
  w.element(kRle);
  if (dictionary) w.element(kRleDictionary);
}

void write_statistics(ThriftWriter& w, std::int64_t gaps,
                      const std::optional<ParquetRange>& range) {
  w.begin_struct(12);
  w.i64(3, gaps);
  if (range) {
    w.text(5, range->highest);
    w.text(6, range->lowest);
  }
  w.end_struct();
}

void write_notes(ThriftWriter& w, const ParquetNotes& notes) {
  w.begin_list(5, notes.size(), ThriftWriter::kStruct);
  for (const auto& [key, value] : notes) {
    w.begin_struct();
    w.text(1, key);
    w.text(2, value);
    w.end_struct();
  }
}

void write_orders(ThriftWriter& w, std::size_t columns) {
  w.begin_list(7, columns, ThriftWriter::kStruct);
  for (std::size_t i = 0; i < columns; ++i) {
    w.begin_struct();   // ColumnOrder
    w.begin_struct(1);  // as its type defines
    w.end_struct();
    w.end_struct();
  }
}

void write_sorting(ThriftWriter& w, std::size_t column) {
  w.begin_list(4, 1, ThriftWriter::kStruct);
  w.begin_struct();
  w.i32(1, static_cast<std::int32_t>(column));
  w.boolean(2, false);  // rising
  w.boolean(3, false);  // gaps, of which there are none, last
  w.end_struct();
}

}  // namespace

void ParquetFile::write_chunk(ThriftWriter& w, const ParquetColumn& column, const Chunk& c) {
  w.begin_struct();
  w.i64(2, 0);  // no copy of this stands outside the footer
  w.begin_struct(3);
  w.i32(1, physical(column.type));
  write_encodings(w, c.dictionary_page.has_value());
  w.begin_list(3, 1, ThriftWriter::kBinary);
  w.element_text(column.name);
  w.i32(4, kZstd);
  w.i64(5, c.values);
  w.i64(6, c.plain_bytes);
  w.i64(7, c.packed_bytes);
  w.i64(9, c.data_page);
  if (c.dictionary_page) w.i64(11, *c.dictionary_page);
  write_statistics(w, c.gaps, c.range);
  w.end_struct();
  w.end_struct();
}

void ParquetFile::write_group(ThriftWriter& w, const Group& g, std::size_t number) const {
  std::int64_t plain_bytes = 0;
  std::int64_t packed_bytes = 0;
  w.begin_struct();
  w.begin_list(1, g.chunks.size(), ThriftWriter::kStruct);
  for (std::size_t i = 0; i < g.chunks.size(); ++i) {
    plain_bytes += g.chunks[i].plain_bytes;
    packed_bytes += g.chunks[i].packed_bytes;
    write_chunk(w, columns_[i], g.chunks[i]);
  }
  w.i64(2, plain_bytes);
  w.i64(3, g.rows);
  if (g.sorted_by) write_sorting(w, *g.sorted_by);
  w.i64(5, g.chunks.front().first_page);
  w.i64(6, packed_bytes);
  w.i16(7, static_cast<std::int16_t>(number));
  w.end_struct();
}

std::string ParquetFile::footer(const ParquetNotes& notes) const {
  std::int64_t rows = 0;
  for (const Group& g : groups_) rows += g.rows;
  ThriftWriter w;
  w.i32(1, 2);  // version
  write_schema(w, columns_);
  w.i64(3, rows);
  w.begin_list(4, groups_.size(), ThriftWriter::kStruct);
  for (std::size_t i = 0; i < groups_.size(); ++i) write_group(w, groups_[i], i);
  write_notes(w, notes);
  w.text(6, "fuelwright");
  write_orders(w, columns_.size());
  return w.finish();
}

std::string ParquetFile::finish(const ParquetNotes& notes) {
  EXPECTS(groups_.empty() || groups_.back().chunks.size() == columns_.size());
  const std::string foot = footer(notes);
  out_ += foot;
  for (unsigned byte = 0; byte < 4; ++byte) out_ += static_cast<char>(foot.size() >> 8 * byte);
  out_ += kMagic;
  return std::move(out_);
}

}  // namespace fuelwright::signals
