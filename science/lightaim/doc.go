// Package lightaim placeholder
package lightaim
