@echo off
rem Run every check that needs no test: format, lint, types, layers, docs, locks, the pages of the desk. scripts/check [NAME ...]
rem Not tried on Windows yet: written from the sh script beside it.
setlocal
cd /d "%~dp0.."
set PYTHON=python
where py >nul 2>nul && set PYTHON=py -3
%PYTHON% scripts\bootstrap.py test docs -- scripts/check.py %*
exit /b %ERRORLEVEL%
